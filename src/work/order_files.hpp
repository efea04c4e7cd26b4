#pragma once
// Where an order's files come from: its folder, or the attachments of its report.

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "basis/result.hpp"
#include "recording/source.hpp"
#include "report/report.hpp"

namespace ebbtide::work {

/// Bytes of a report that are read.
inline constexpr std::uint64_t largest_report = std::uint64_t{2} << 30;

class OrderFiles {
  public:
    virtual ~OrderFiles() = default;
    /// How messages name the place.
    [[nodiscard]] virtual std::string place() const = 0;
    /// The whole text of a file of the order; names are relative to its folder.
    [[nodiscard]] virtual Result<std::string> text(const std::string& name) const = 0;
    /// The whole of a recording, as bytes. Error: longer than `at_most`.
    [[nodiscard]] virtual Result<std::string> bytes(const std::string& name, std::uint64_t at_most) const = 0;
    /// Names of the files that lie in a folder of the order, in natural order ("run2" before "run10"),
    /// without hidden ones and without what lies in folders below. Errors: no such folder; a link out of the
    /// order's folder.
    [[nodiscard]] virtual Result<std::vector<std::string>> files_in(const std::string& folder) const = 0;
    /// Bytes of a recording; 0 where that is not known before it is read.
    [[nodiscard]] virtual std::uint64_t size(const std::string& name) const = 0;
    /// The recording itself is not here, but its runs are, under kept_runs_name().
    [[nodiscard]] virtual bool keeps_only_runs_of(const std::string& name) const = 0;
    /// A shipped method or specification as text; files that came with a report go before those of this
    /// program.
    [[nodiscard]] virtual Result<std::string> shipped_text(const std::string& id) const = 0;
    [[nodiscard]] virtual Result<std::unique_ptr<recording::Source>> recording(
        const std::string& name, const recording::ReadOptions& options) const = 0;
    /// Whether the order has a folder of that name, or something else of it: then files_in() says what is
    /// wrong. Of an archived report: whether a file of it is attached.
    [[nodiscard]] virtual bool has_folder(const std::string& folder) const = 0;
};

/// A folder that holds order.toml, or a PDF report of ours: an archived report alone is enough. Error: a file
/// that is no such report.
[[nodiscard]] Result<std::unique_ptr<OrderFiles>> order_files_at(const std::string& place);

/// A folder on disk, holding order.toml. Names that lead out of the folder are refused.
[[nodiscard]] std::unique_ptr<OrderFiles> folder_files(std::string folder);

/// The attachments of a report.
[[nodiscard]] std::unique_ptr<OrderFiles> attached_files(std::vector<report::Attachment> attachments);

/// The order's files and one more text, which stands before one of the same name.
[[nodiscard]] std::unique_ptr<OrderFiles> with_file(std::unique_ptr<OrderFiles> order, std::string name,
                                                    std::string text);

/// The name under which a shipped method or specification is attached: "methods/NAME.toml".
[[nodiscard]] std::string shipped_name(const std::string& id);

/// Names of the files in a folder, as OrderFiles::files_in() gives them. Error: it cannot be read.
[[nodiscard]] Result<std::vector<std::string>> names_in(const std::string& folder);

/// Bytes of a file. Error: cannot be read, or longer than `at_most` bytes.
[[nodiscard]] Result<std::string> read_whole(const std::string& path, std::uint64_t at_most);

}  // namespace ebbtide::work
