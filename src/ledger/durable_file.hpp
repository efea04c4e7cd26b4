#pragma once
// Files that are on the disk under their name, or not there at all.

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>

#include "basis/result.hpp"

namespace ebbtide::ledger {

/// A new file that grows, for lists longer than memory.
class NewFile {
  public:
    /// Error: it is there already; it cannot be written.
    [[nodiscard]] static Result<NewFile> create(const std::string& path);
    NewFile(NewFile&& other) noexcept;
    NewFile& operator=(NewFile&&) = delete;
    ~NewFile();

    [[nodiscard]] Result<Done> add(std::string_view bytes);
    /// Waits until the disk has it, under its name. Before that nothing is promised.
    [[nodiscard]] Result<Done> finish();

  private:
    NewFile(std::string path, int file) : path_(std::move(path)), file_(file) {}
    Result<Done> write(std::string_view bytes);
    std::string path_, waiting_;
    int file_ = -1;
};

/// A file of lines, read one by one, for lists longer than memory.
class LineFile {
  public:
    /// Error: it cannot be read.
    [[nodiscard]] static Result<LineFile> open(const std::string& path);
    LineFile(LineFile&& other) noexcept;
    LineFile& operator=(LineFile&&) = delete;
    ~LineFile();

    /// The next line without its line feed; nothing at the end. Errors: the disk; a line of more than 1 GiB.
    [[nodiscard]] Result<std::optional<std::string>> next();

  private:
    LineFile(std::string path, int file) : path_(std::move(path)), file_(file) {}
    std::string path_, waiting_;
    std::size_t at_ = 0;  ///< in `waiting_`: what is before it was handed out
    int file_ = -1;
};

/// Writes a new file and waits until the disk has it, under its name. Errors as NewFile.
[[nodiscard]] Result<Done> write_new_file(const std::string& path, std::string_view bytes);

/// Gives a finished file or directory its name. Errors: that name is taken; the disk refuses.
[[nodiscard]] Result<Done> give_name(const std::string& part, const std::string& path);

/// Error: something of that name is there.
[[nodiscard]] Result<Done> must_be_new(const std::string& path);

/// Hands out a regular file piece by piece. Error: it cannot be read.
[[nodiscard]] Result<Done> each_piece(const std::string& path,
                                      const std::function<void(std::string_view)>& piece);
/// All of a file. Error: it cannot be read, or is longer.
[[nodiscard]] Result<std::string> read_file(const std::string& path, std::uint64_t at_most);

}  // namespace ebbtide::ledger
