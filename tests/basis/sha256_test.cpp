#include "basis/sha256.hpp"

#include <gtest/gtest.h>

namespace ebbtide {

TEST(Sha256, AgreesWithThePublishedExamples) {
    // FIPS 180-2, appendix B.1 and B.2.
    EXPECT_EQ(sha256_hex("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    EXPECT_EQ(sha256_hex("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"),
              "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
}

TEST(Sha256, DoesNotDependOnHowTheBytesArrive) {
    Sha256 hash;
    hash.add("a");
    hash.add("bc");
    EXPECT_EQ(hash.hex(), sha256_hex("abc"));
}

}  // namespace ebbtide
