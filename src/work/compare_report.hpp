#pragma once
// A comparison as a document for people, and for the terminal.

#include <string>

#include "report/document.hpp"
#include "report/picture.hpp"
#include "work/compare.hpp"

namespace ebbtide::work {

/// The groups on one axis.
[[nodiscard]] report::Picture plot_of(const Comparison& comparison, double width);

/// What the groups say, a plot of all times, tables of groups and pairs, what is not proved. `subject` names
/// what is compared ("t(10 %) of TP-1, TP-2"); `made` is the time that the document states.
[[nodiscard]] report::Document compose(const Comparison& comparison, const std::string& subject,
                                       Instant made);

}  // namespace ebbtide::work
