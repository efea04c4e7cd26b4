#pragma once
// The records of bench checks that lie in a `checks` folder: reading them, writing them, and whether work may
// start on them. docs/formats/bench-check.md.

#include <string>
#include <vector>

#include "basis/result.hpp"
#include "plan/bench.hpp"
#include "record/order_record.hpp"
#include "work/order_files.hpp"

namespace ebbtide::work {

inline constexpr const char* checks_folder = "checks";

/// The folder that holds a bench file; its checks lie in the folder `checks` there.
[[nodiscard]] std::string folder_of_bench(const std::string& bench_file);

/// Reads a record of a check or of an override. Error: it is none, or of another bench.
[[nodiscard]] Result<plan::BenchCheck> parse_bench_check(const std::string& text, const std::string& name,
                                                         const plan::Bench& bench);

/// All of an order's, oldest first; none where there is no such folder. What was read is listed among the
/// record's inputs. Files of other kinds are left alone. Errors: as parse_bench_check(); a folder that is
/// there and cannot be listed is not taken for an empty one.
[[nodiscard]] Result<std::vector<plan::BenchCheck>> bench_checks(const OrderFiles& files,
                                                                 const plan::Bench& bench,
                                                                 record::OrderRecord& record);

/// The same of a folder on the disk, without a record.
[[nodiscard]] Result<std::vector<plan::BenchCheck>> bench_checks_in(const std::string& folder,
                                                                    const plan::Bench& bench);

/// Writes `text` as a new file of the folder and waits until the disk has it.
[[nodiscard]] Result<Done> write_check_file(const std::string& folder, const std::string& name,
                                            const std::string& text);

/// "2026-10-06T091503Z": an instant in a file's name.
[[nodiscard]] std::string name_text(Instant at);

/// JSON of a person's leave to work without a good check.
[[nodiscard]] std::string override_text(const plan::Bench& bench, Instant at, const std::string& who,
                                        const std::string& reason);

}  // namespace ebbtide::work
