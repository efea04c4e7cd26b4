#pragma once
// What we ask of libhdf5, so that nothing else calls it to read. Whatever it answers is checked: files come
// from outside.

#include <hdf5.h>

#include <cstdint>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace ebbtide::recording::hdf5 {

/// Before the first call: no messages of the library's own, nothing loaded from outside, nothing at exit.
void settle();

/// An id of the library, closed at the end.
class Handle {
  public:
    Handle() = default;
    Handle(hid_t id, herr_t (*close)(hid_t)) : id_(id), close_(close) {}
    Handle(Handle&& other) noexcept : id_(std::exchange(other.id_, -1)), close_(other.close_) {}
    Handle& operator=(Handle&& other) noexcept {
        if (this != &other) {
            reset();
            id_ = std::exchange(other.id_, -1);
            close_ = other.close_;
        }
        return *this;
    }
    ~Handle() { reset(); }

    [[nodiscard]] explicit operator bool() const { return id_ >= 0; }
    [[nodiscard]] hid_t id() const { return id_; }
    /// False when closing failed: what was written may not be on the disk.
    bool reset() {
        const bool closed = id_ < 0 || close_(id_) >= 0;
        id_ = -1;
        return closed;
    }

  private:
    hid_t id_ = -1;
    herr_t (*close_)(hid_t) = nullptr;
};

[[nodiscard]] Handle open_group(hid_t parent, const std::string& name);
/// A hard link of this name; links out of the file are not followed.
[[nodiscard]] bool holds(hid_t group, const std::string& name);
/// Names of a group's hard links, in natural order, at most `most`.
[[nodiscard]] std::vector<std::string> names_in(hid_t group, std::size_t most);
[[nodiscard]] bool is_group(hid_t parent, const std::string& name);

// Attributes; nothing where there is none of this name and type.
[[nodiscard]] std::optional<std::string> text_of(hid_t object, const std::string& name);
[[nodiscard]] std::optional<double> number_of(hid_t object, const std::string& name);
[[nodiscard]] std::optional<std::int64_t> whole_of(hid_t object, const std::string& name);
/// True only where there certainly is none: of a damaged object nobody knows.
[[nodiscard]] bool lacks_attribute(hid_t object, const std::string& name);
/// Names of attributes, at most `most`.
[[nodiscard]] std::vector<std::string> attributes_of(hid_t object, std::size_t most);

/// A dataset of numbers in one dimension, or in several of which all but one are 1.
struct Numbers {
    Handle dataset;
    std::uint64_t length = 0;
    int rank = 1, along = 0;

    /// Numbers [from, from + count) into `into`, whatever their type in the file. False: damaged.
    [[nodiscard]] bool read(std::uint64_t from, std::size_t count, double* into) const;
};
/// `instead` tells what the object is when it is none: "a group", "2-D, 100 x 3", "claims more than its bytes
/// can hold".
[[nodiscard]] std::optional<Numbers> open_numbers(hid_t group, const std::string& name, std::string& instead);

/// A dataset of texts, row by row, n rows of `columns`; nothing when it is none or has over `most` rows.
[[nodiscard]] std::optional<std::vector<std::string>> texts_in(hid_t group, const std::string& name,
                                                               std::size_t columns, std::size_t most);

/// Bytes of the longest text that is read.
inline constexpr std::size_t longest_text = 65'536;

}  // namespace ebbtide::recording::hdf5
