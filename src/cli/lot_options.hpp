#pragma once
// What 'lot' and 'compare' are asked for, beside what commands.hpp says of lots.

#include <string>
#include <vector>

#include "cli/commands.hpp"

namespace ebbtide::cli {

/// Where earlier lots of a material are; one of the three at most.
struct LotHistoryOptions {
    std::string times;            ///< table of their times
    std::string ledger;           ///< ledger that holds them
    std::string material, level;  ///< of the ledger's; empty: the orders'
    std::vector<double> stated;   ///< seconds, factor between lots, factor between specimens
};
int lot(const LotOptions& options, const LotHistoryOptions& history);

struct CompareOptions {
    std::vector<std::string> sources;  ///< folders of orders, PDF reports of ours, tables of times
    std::string by;                    ///< empty: by source, or the column `group` of a single table
    std::string level;                 ///< of orders; empty: the one that they require
    double alike_within = 1.25;
    std::string output;  ///< .pdf or .html; empty: none
    bool json = false;
};
int compare(const CompareOptions& options);

}  // namespace ebbtide::cli
