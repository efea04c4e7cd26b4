#pragma once
// SHA-256 (FIPS 180-4), by libcrypto, which uses the instructions that processors have for it. Ids of
// recordings and runs, and settings hashes, come from here.

#include <array>
#include <cstddef>
#include <memory>
#include <span>
#include <string>
#include <string_view>

namespace ebbtide {

/// Hashes bytes as they come; one object, one thread.
class Sha256 {
  public:
    Sha256();
    ~Sha256();
    Sha256(Sha256&&) noexcept;
    Sha256& operator=(Sha256&&) noexcept;

    void add(std::span<const std::byte> bytes);
    void add(std::string_view text);
    /// The exact bits of the doubles, little-endian.
    void add(std::span<const double> values);
    /// 64 lower-case hexadecimal digits; the object is spent afterwards.
    [[nodiscard]] std::string hex();
    /// The same as 32 bytes.
    [[nodiscard]] std::array<std::byte, 32> digest();

  private:
    struct State;
    std::unique_ptr<State> state_;
};

[[nodiscard]] std::string sha256_hex(std::string_view bytes);

}  // namespace ebbtide
