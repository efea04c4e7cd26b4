#include "report/column_widths.hpp"

#include <algorithm>
#include <cmath>

namespace ebbtide::report {
namespace {

double sum_of(const std::vector<ColumnNeed>& needs, double ColumnNeed::*part) {
    double sum = 0;
    for (const ColumnNeed& need : needs) sum += need.*part;
    return sum;
}

/// From the least towards the wanted, each by the square root of what it lacks, so that a column of long
/// sentences does not starve one of short words. No column gets more than it wants.
std::vector<double> filled(const std::vector<ColumnNeed>& needs, double room) {
    std::vector<double> widths;
    for (const ColumnNeed& need : needs) widths.push_back(need.least);
    double left = room - sum_of(needs, &ColumnNeed::least);
    const auto weight = [&](std::size_t i) {
        return widths[i] < needs[i].wanted ? std::sqrt(needs[i].wanted - needs[i].least) : 0.0;
    };
    for (std::size_t round = 0; round < needs.size() && left > 0.01; ++round) {
        double open = 0;
        for (std::size_t i = 0; i < needs.size(); ++i) open += weight(i);
        if (open <= 0) break;
        double given = 0;
        std::vector<double> next = widths;
        for (std::size_t i = 0; i < needs.size(); ++i) {
            next[i] += std::min(needs[i].wanted - widths[i], left * weight(i) / open);
            given += next[i] - widths[i];
        }
        widths = std::move(next);
        left -= given;
    }
    return widths;
}

}  // namespace

bool least_fits(const std::vector<ColumnNeed>& needs, double room) {
    return sum_of(needs, &ColumnNeed::least) <= room;
}

std::vector<double> share_room(const std::vector<ColumnNeed>& needs, double room) {
    std::vector<double> widths;
    if (!least_fits(needs, room)) {
        const double shrink = room / sum_of(needs, &ColumnNeed::least);
        for (const ColumnNeed& need : needs) widths.push_back(need.least * shrink);
        return widths;
    }
    const double spare = room - sum_of(needs, &ColumnNeed::wanted);
    if (spare < 0) return filled(needs, room);
    const bool any_elastic = std::ranges::any_of(needs, &ColumnNeed::elastic);
    double takers = 0;
    for (const ColumnNeed& need : needs)
        if (need.elastic || !any_elastic) takers += need.wanted;
    // Numbers moved far from their names are hard to follow: without elastic columns they grow by half at
    // most.
    const double growth = any_elastic ? spare / takers : std::min(spare / takers, 0.5);
    for (const ColumnNeed& need : needs)
        widths.push_back(need.wanted * (need.elastic || !any_elastic ? 1 + growth : 1));
    return widths;
}

}  // namespace ebbtide::report
