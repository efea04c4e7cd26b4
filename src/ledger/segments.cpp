#include "ledger/segments.hpp"

#include <fmt/format.h>
#include <zstd.h>

#include <array>
#include <optional>

#include "basis/sha256.hpp"
#include "ledger/audit.hpp"

namespace ebbtide::ledger {
namespace {

/// Level 3 packs recordings as well as slower ones, within a tenth.
constexpr int packing_level = 3;

/// Whether some bytes are more frequent than others in three short pieces of it, by Pearson's chi-square: a
/// packer for the whole costs more than all hashes of a run, and one for the pieces half as much as they.
bool packs(std::string_view bytes) {
    constexpr std::size_t piece = 1024;
    if (bytes.size() < 8 * piece) return true;
    std::array<double, 256> counts{};
    for (const std::size_t from : {std::size_t{0}, bytes.size() / 2, bytes.size() - piece})
        for (const char c : bytes.substr(from, piece)) ++counts[static_cast<unsigned char>(c)];
    constexpr double expected = 3.0 * piece / 256;
    double chi_square = 0;
    for (const double count : counts) chi_square += (count - expected) * (count - expected) / expected;
    // Of bytes without any order: 255 give or take 23. Six times that much more still saves less than a
    // hundredth.
    return chi_square > 255 + 6 * 23;
}

/// Nothing where packing saves nothing.
std::optional<std::string> packed_by_zstd(std::string_view bytes) {
    if (!packs(bytes)) return {};
    std::string packed(ZSTD_compressBound(bytes.size()), '\0');
    const std::size_t size =
        ZSTD_compress(packed.data(), packed.size(), bytes.data(), bytes.size(), packing_level);
    if (ZSTD_isError(size) != 0 || size >= bytes.size()) return {};
    packed.resize(size);
    return packed;
}

Error damaged(const std::string& sha256, const std::string& what) {
    return {Fault::inconsistent, "segment " + sha256 + " " + what, "ledger",
            "Restore the last backup, or add the order again into a new ledger"};
}

}  // namespace

Result<std::string> put_segment(Database& database, std::string_view bytes, Instant at) {
    if (bytes.size() > largest_segment)
        return Error{Fault::bad_input,
                     fmt::format("{} bytes, at most {} are kept in one piece", bytes.size(), largest_segment),
                     database.path(), "Keep the file elsewhere, and its SHA-256 in the order's remarks"};
    std::string sha256 = sha256_hex(bytes);
    const auto there = has_segment(database, sha256);
    if (!there) return there.error();
    if (*there) return sha256;
    const auto link = append_link(database, Act::segment, sha256, at);
    if (!link) return link.error();
    const std::optional<std::string> packed = packed_by_zstd(bytes);
    const auto written =
        database.run("INSERT INTO segment (number, sha256, bytes, packing, packed) VALUES (?, ?, ?, ?, ?)",
                     {link->number, sha256, static_cast<std::int64_t>(bytes.size()), packed ? "zstd" : "none",
                      Blob{packed ? std::string_view(*packed) : bytes}});
    if (!written) return written.error();
    return sha256;
}

Result<bool> has_segment(Database& database, const std::string& sha256) {
    const auto number = database.number("SELECT number FROM segment WHERE sha256 = ?", {sha256});
    if (!number) return number.error();
    return number->has_value();
}

Result<std::string> unpacked(const std::string& packing, std::string packed, std::int64_t bytes,
                             const std::string& sha256) {
    if (bytes < 0 || bytes > static_cast<std::int64_t>(largest_segment))
        return damaged(sha256, fmt::format("says that it holds {} bytes", bytes));
    std::string out;
    if (packing == "none") {
        out = std::move(packed);
    } else if (packing == "zstd") {
        // The frame states its length too: a damaged one would otherwise ask for any amount of memory.
        if (ZSTD_getFrameContentSize(packed.data(), packed.size()) != static_cast<unsigned long long>(bytes))
            return damaged(sha256, "does not unpack to the length it states");
        out.resize(static_cast<std::size_t>(bytes));
        const std::size_t size = ZSTD_decompress(out.data(), out.size(), packed.data(), packed.size());
        if (size != out.size()) return damaged(sha256, "does not unpack");
    } else {
        return damaged(sha256, "is packed in an unknown way");
    }
    if (static_cast<std::int64_t>(out.size()) != bytes || sha256_hex(out) != sha256)
        return damaged(sha256, "holds other bytes than were put there");
    return out;
}

Result<std::string> segment(Database& database, const std::string& sha256) {
    std::optional<Result<std::string>> found;
    const auto read =
        database.each("SELECT packing, packed, bytes FROM segment WHERE sha256 = ?", {sha256},
                      [&](const Row& row) -> Result<Done> {
                          found.emplace(unpacked(row.text(0), row.text(1), row.integer(2), sha256));
                          return Done{};
                      });
    if (!read) return read.error();
    if (!found)
        return Error{Fault::bad_input, "no segment " + sha256 + " is kept", database.path(),
                     "Check the hash, or look in another ledger"};
    return *std::move(found);
}

}  // namespace ebbtide::ledger
