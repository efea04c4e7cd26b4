#include "basis/sha256.hpp"

#include <openssl/evp.h>

#include <array>
#include <bit>
#include <stdexcept>

namespace ebbtide {
namespace {

/// Only memory that has run out makes hashing fail.
void must(int succeeded) {
    if (succeeded != 1) throw std::runtime_error("libcrypto gives no SHA-256");
}

/// Asked for once: libcrypto looks through its providers each time it is asked.
const EVP_MD* sha256() {
    static const EVP_MD* const fetched = EVP_MD_fetch(nullptr, "SHA2-256", nullptr);
    return fetched;
}

}  // namespace

static_assert(std::endian::native == std::endian::little, "hashes of doubles are defined little-endian");

struct Sha256::State {
    EVP_MD_CTX* context = EVP_MD_CTX_new();

    State() = default;
    State(const State&) = delete;
    State& operator=(const State&) = delete;
    ~State() { EVP_MD_CTX_free(context); }
};

Sha256::Sha256() : state_(std::make_unique<State>()) {
    must(EVP_DigestInit_ex(state_->context, sha256(), nullptr));
}
Sha256::~Sha256() = default;
Sha256::Sha256(Sha256&&) noexcept = default;
Sha256& Sha256::operator=(Sha256&&) noexcept = default;

void Sha256::add(std::span<const std::byte> bytes) {
    must(EVP_DigestUpdate(state_->context, bytes.data(), bytes.size()));
}

void Sha256::add(std::string_view text) {
    add(std::as_bytes(std::span(text.data(), text.size())));
}

void Sha256::add(std::span<const double> values) {
    add(std::as_bytes(values));
}

std::array<std::byte, 32> Sha256::digest() {
    std::array<std::byte, 32> bytes{};
    must(EVP_DigestFinal_ex(state_->context, reinterpret_cast<unsigned char*>(bytes.data()), nullptr));
    return bytes;
}

std::string Sha256::hex() {
    constexpr std::string_view digits = "0123456789abcdef";
    std::string text;
    for (const std::byte byte : digest()) {
        text += digits[std::to_integer<std::size_t>(byte) >> 4];
        text += digits[std::to_integer<std::size_t>(byte) & 15];
    }
    return text;
}

std::string sha256_hex(std::string_view bytes) {
    Sha256 hash;
    hash.add(bytes);
    return hash.hex();
}

}  // namespace ebbtide
