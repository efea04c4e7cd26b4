#pragma once
// The chapters of a report, each adding its blocks to the document; pure functions of the input.

#include <map>
#include <optional>

#include "plan/flag.hpp"
#include "report/document.hpp"
#include "report/report.hpp"

namespace ebbtide::report {

/// First page: what was tested, by which method, does it conform, how sure.
void add_front(Document& document, const ReportInput& input);
/// On the first page, when the report was made under other terms than its order's: which, and that it is not
/// the agreed statement.
void add_other_terms(Document& document, const ReportInput& input);
/// On the first page of an amended report: what it replaces, why, what changed.
void add_amendment_front(Document& document, const ReportInput& input);
/// Every difference from the replaced report, when the first page does not hold them all.
void add_amendment(Document& document, const ReportInput& input);
/// Items, specimens and how they were sampled.
void add_items(Document& document, const ReportInput& input);
/// Each requirement with the results of its groups; the decision rule and its risk.
void add_conformity(Document& document, const ReportInput& input);
/// The curves of each specimen.
void add_curves(Document& document, const ReportInput& input);
/// The figures of every run.
void add_runs(Document& document, const ReportInput& input);
/// The law behind each fall, and what it leaves.
void add_laws(Document& document, const ReportInput& input);
/// Where the uncertainty of the deciding decay time comes from.
void add_uncertainty(Document& document, const ReportInput& input);
/// Conditions, equipment, calibrations.
void add_circumstances(Document& document, const ReportInput& input);
/// Flags in words.
void add_flags(Document& document, const ReportInput& input);
/// Recordings and documents, with their hashes, and how to check the report.
void add_pedigree(Document& document, const ReportInput& input);
/// Deviations, external providers, opinions, cautions, how to read the figures.
void add_notes(Document& document, const ReportInput& input);

/// Columns that stay on one line.
inline constexpr Column::Kind number = Column::Kind::number, one_line = Column::Kind::name;

/// A letter for each code that was raised, gravest consequence first: "a", "b", ..., "aa".
struct FlagLetters {
    std::vector<plan::FlagCode> codes;
    std::map<plan::FlagCode, std::string> letter;
};
[[nodiscard]] FlagLetters flag_letters(const judge::Judgement& judgement);

/// Takes out columns that say the same for every row, and returns what they say: "The same for all runs:
/// ...".
[[nodiscard]] std::string lift_constant_columns(Table& table);

/// The result that lies closest to its limit, in parts of the limit: the mean where a mean is asked for.
struct DecidingResult {
    const judge::Finding* finding = nullptr;
    const plan::Requirement* requirement = nullptr;
};
[[nodiscard]] std::optional<DecidingResult> deciding_result(const judge::Judgement& judgement);

/// Reasons of the statement that stand on the first page; longer lists are given whole under Conformity.
inline constexpr std::size_t reasons_on_first_page = 6;

/// Levels that requirements are about; the method's when there are none.
[[nodiscard]] std::vector<plan::Level> levels_to_show(const record::OrderRecord& record);

}  // namespace ebbtide::report
