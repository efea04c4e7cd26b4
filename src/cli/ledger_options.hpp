#pragma once
// Options of the ledger's commands; main.cpp has the others.

#include "cli/commands.hpp"

namespace CLI {
class App;
}

namespace ebbtide::cli {

/// Adds "ledger" and its commands; the one that is called sets `code`. `options` outlives the parsing.
void add_ledger_commands(CLI::App& app, LedgerOptions& options, int& code);

}  // namespace ebbtide::cli
