#include "basis/sha256.hpp"

#include <sodium.h>

#include <array>
#include <bit>

namespace ebbtide {

static_assert(std::endian::native == std::endian::little, "hashes of doubles are defined little-endian");

struct Sha256::State {
    crypto_hash_sha256_state inner;
};

Sha256::Sha256() : state_(std::make_unique<State>()) {
    crypto_hash_sha256_init(&state_->inner);
}
Sha256::~Sha256() = default;
Sha256::Sha256(Sha256&&) noexcept = default;
Sha256& Sha256::operator=(Sha256&&) noexcept = default;

void Sha256::add(std::span<const std::byte> bytes) {
    crypto_hash_sha256_update(&state_->inner, reinterpret_cast<const unsigned char*>(bytes.data()),
                              bytes.size());
}

void Sha256::add(std::string_view text) {
    add(std::as_bytes(std::span(text.data(), text.size())));
}

void Sha256::add(std::span<const double> values) {
    add(std::as_bytes(values));
}

std::array<std::byte, 32> Sha256::digest() {
    std::array<std::byte, crypto_hash_sha256_BYTES> bytes{};
    crypto_hash_sha256_final(&state_->inner, reinterpret_cast<unsigned char*>(bytes.data()));
    return bytes;
}

std::string Sha256::hex() {
    const auto bytes = digest();
    std::array<char, crypto_hash_sha256_BYTES * 2 + 1> text{};
    sodium_bin2hex(text.data(), text.size(), reinterpret_cast<const unsigned char*>(bytes.data()),
                   bytes.size());
    return text.data();
}

std::string sha256_hex(std::string_view bytes) {
    Sha256 hash;
    hash.add(bytes);
    return hash.hex();
}

}  // namespace ebbtide
