#pragma once
// One run as a file of its own.

#include <optional>
#include <string>
#include <string_view>

#include "basis/result.hpp"
#include "work/judge_order.hpp"
#include "work/order_files.hpp"

namespace ebbtide::work {

enum class RunFormat { csv, svg, png, hdf5 };
[[nodiscard]] std::optional<RunFormat> run_format_named(std::string_view name);

struct RunFile {
    std::string name;  ///< "TP-2026-0914-W1-front-dry-plus-1.csv"
    std::string media_type;
    std::string bytes;
};

/// Samples that go into one text.
inline constexpr std::size_t most_csv_samples = 20'000'000;

/// csv and hdf5: every sample as it was recorded, in seconds and volts, so that measuring the file with the
/// same bench gives the run again. svg and png: its plot. Errors: the record has no such run; it cannot be
/// read again; csv: its channels have different time axes, or too many samples.
[[nodiscard]] Result<RunFile> export_run(const OrderFiles& files, const JudgedOrder& judged,
                                         const judge::JudgedRun& run, RunFormat format);

}  // namespace ebbtide::work
