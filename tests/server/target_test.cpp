// What a target names, and what names nothing.

#include "server/target.hpp"

#include <gtest/gtest.h>

#include <string_view>
#include <vector>

namespace ebbtide::server {
namespace {

TEST(Target, IsDecodedOnce) {
    const auto plain = parse_target("/api/orders/awning%20live/runs/1?level=10%25&a+b=c+d%2B&flag&x=1&x=2");
    ASSERT_TRUE(plain.has_value());
    EXPECT_EQ(plain->path, "/api/orders/awning live/runs/1");
    EXPECT_EQ(plain->query.at("level"), "10%");
    EXPECT_EQ(plain->query.at("a b"), "c d+");
    EXPECT_EQ(plain->query.at("flag"), "");
    EXPECT_EQ(plain->query.at("x"), "2");
    EXPECT_EQ(parse_target("/a%2525")->path, "/a%25") << "not twice";
    EXPECT_EQ(parse_target("/f%C3%B6hn")->path, "/f\xC3\xB6hn");
    EXPECT_EQ(parse_target("/")->path, "/");
    EXPECT_EQ(parse_target("/a/")->path, "/a/");
    EXPECT_EQ(parse_target("/a..b/...")->path, "/a..b/...") << "dots in a name are a name";
}

TEST(Target, HidesNothing) {
    for (const std::string_view target : std::vector<std::string_view>{
             "", "*", "a", "http://127.0.0.1/", "//127.0.0.1/", "/..", "/../etc/passwd", "/a/../b", "/a/./b",
             "/.", "/%2e%2e/etc", "/%2E./", "/a/%2e", "/a%2fb", "/a%2Fb", "/a%5cb", "/a\\b", "/a//b",
             "/a%00b", "/a%0d%0aX: y", "/a\x7f", "/%", "/%4", "/%zz", "/a?x=%", "/a?%0a=1",
             "/a?x=%0d%0aSet-Cookie:1",
             // RFC 3629: overlong "/", a surrogate, above U+10FFFF, a lone continuation, a cut sequence
             "/%c0%af", "/%ed%a0%80", "/%f4%90%80%80", "/%80", "/%e2%82", "/\xff"})
        EXPECT_FALSE(parse_target(target).has_value()) << target;
}

}  // namespace
}  // namespace ebbtide::server
