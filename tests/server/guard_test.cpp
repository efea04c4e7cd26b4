// Whom the server hears. The threats: a page of another origin, a name that was made to point at loopback, a
// program of another person on this computer, a form that posts blindly.

#include "server/guard.hpp"

#include <gtest/gtest.h>

#include <cctype>
#include <set>
#include <string>
#include <vector>

namespace ebbtide::server {
namespace {

const std::string token = "00112233445566778899aabbccddeeff";

Guard guard() {
    return {token, 4711};
}

/// A reader that holds the cookie.
Head reader() {
    static const std::string cookie = "other=1; ebbtide_4711=" + token + "; more=2";
    Head head;
    head.method = "GET";
    head.path = "/api/bench";
    head.host = "127.0.0.1:4711";
    head.cookie = cookie;
    return head;
}

/// The page that posts.
Head writer() {
    Head head = reader();
    head.method = "POST";
    head.path = "/api/bench/abort";
    head.origin = "http://127.0.0.1:4711";
    head.content_type = "application/json";
    return head;
}

int status(const Head& head) {
    const auto refusal = guard().refuses(head);
    return refusal ? refusal->status : 200;
}

TEST(Guard, HearsWhoHoldsTheToken) {
    EXPECT_EQ(status(reader()), 200);
    EXPECT_EQ(status(writer()), 200);
    Head script = reader();
    const std::string bearer = "bearer  " + token;
    script.cookie = {};
    script.authorization = bearer;
    EXPECT_EQ(status(script), 200);
    script.method = "POST";
    script.content_type = "application/json; charset=utf-8";
    EXPECT_EQ(status(script), 200) << "a script has no origin";
}

TEST(Guard, HearsNobodyElse) {
    for (const std::string& cookie : std::vector<std::string>{
             std::string(), "ebbtide_4712=" + token, "ebbtide_4711=" + token.substr(1),
             "ebbtide_4711=" + token + "0", std::string("ebbtide_4711="), "xebbtide_4711=" + token,
             "ebbtide_4711=f0112233445566778899aabbccddeeff", "EBBTIDE_4711=" + token}) {
        Head head = reader();
        head.cookie = cookie;
        EXPECT_EQ(status(head), 401) << cookie;
    }
    Head head = reader();
    head.cookie = {};
    EXPECT_EQ(status(head), 401);
    for (const std::string& sent :
         {"Basic " + token, token, std::string("Bearer "), "Bearer " + token + " x"}) {
        head.authorization = sent;
        EXPECT_EQ(status(head), 401) << sent;
    }
    // A wrong bearer is not made good by the cookie that the browser adds by itself.
    head = writer();
    head.origin = {};
    head.authorization = "Bearer 0";
    EXPECT_EQ(status(head), 401);
}

TEST(Guard, HearsOnlyWhatIsMeantForThisServer) {
    for (const std::string_view host :
         std::vector<std::string_view>{"127.0.0.1:4711", "localhost:4711", "LOCALHOST:4711", "[::1]:4711"}) {
        Head head = reader();
        head.host = host;
        EXPECT_EQ(status(head), 200) << host;
    }
    for (const std::string_view host : std::vector<std::string_view>{
             "127.0.0.1", "127.0.0.1:4712", "bench.example:4711", "localhost.bench.example:4711",
             "0.0.0.0:4711", "127.0.0.1:4711.bench.example", "[::1]:47110", "", "localhost:4711 ",
             "127.0.0.2:4711", "::1:4711", Head::twice}) {
        Head head = reader();
        head.host = host;
        EXPECT_EQ(status(head), 421) << host;
    }
    Head head = reader();
    head.host = {};
    EXPECT_EQ(status(head), 421);
    EXPECT_TRUE(guard().refuses_entry(head, token).has_value()) << "the entry asks for the host as well";
}

TEST(Guard, TakesNoOrderFromAnotherPage) {
    for (const std::string_view origin :
         std::vector<std::string_view>{"null", "https://127.0.0.1:4711", "http://127.0.0.1:4712",
                                       "http://127.0.0.1", "http://bench.example", "http://", "",
                                       "http://127.0.0.1:4711/", "http://x@127.0.0.1:4711", Head::twice}) {
        Head head = writer();
        head.origin = origin;
        EXPECT_EQ(status(head), 403) << origin;
        head = reader();
        head.origin = origin;
        EXPECT_EQ(status(head), 403) << "reading, " << origin;
    }
    Head head = writer();
    head.origin = {};
    EXPECT_EQ(status(head), 403) << "a form of an old browser sends a cookie and no origin";
}

TEST(Guard, TakesOnlyBodiesThatAFormCannotSend) {
    // The types that a page of any origin may post without being asked (WHATWG Fetch, CORS-safelisted
    // request-header, as remembered).
    for (const std::string_view type :
         std::vector<std::string_view>{"application/x-www-form-urlencoded", "multipart/form-data",
                                       "text/plain", "", "application/octet-stream", "application/jsonx"}) {
        Head head = writer();
        head.content_type = type;
        EXPECT_EQ(status(head), 415) << type;
    }
    Head import = writer();
    import.path = import_path;
    EXPECT_EQ(status(import), 415);
    import.content_type = "application/octet-stream";
    EXPECT_EQ(status(import), 200);
}

TEST(Guard, HearsNoOtherMethod) {
    for (const std::string_view method :
         {"PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "", "get"}) {
        Head head = writer();
        head.method = method;
        EXPECT_EQ(status(head), 405) << method;
    }
}

TEST(Guard, OpensByItsTokenAlone) {
    Head head = reader();
    head.cookie = {};
    EXPECT_FALSE(guard().refuses_entry(head, token).has_value());
    EXPECT_EQ(guard().refuses_entry(head, token.substr(1))->status, 401);
    EXPECT_EQ(guard().refuses_entry(head, "")->status, 401);
    head.method = "POST";
    EXPECT_EQ(guard().refuses_entry(head, token)->status, 405);
    EXPECT_EQ(Guard("", 1).refuses_entry(reader(), "")->status, 421);
    head = reader();
    EXPECT_EQ(Guard("", 4711).refuses_entry(head, "")->status, 401) << "no token opens nothing";
    const std::string cookie = guard().cookie();
    EXPECT_TRUE(cookie.starts_with("ebbtide_4711=" + token + ";"));
    EXPECT_NE(cookie.find("HttpOnly"), std::string::npos);
    EXPECT_NE(cookie.find("SameSite=Strict"), std::string::npos);
}

TEST(Guard, MakesATokenOf128Bits) {
    std::set<std::string> seen;
    for (int i = 0; i < 100; ++i) {
        const std::string made = new_token();
        ASSERT_EQ(made.size(), 32u);
        for (const char c : made) EXPECT_TRUE(std::isxdigit(static_cast<unsigned char>(c)) != 0);
        seen.insert(made);
    }
    EXPECT_EQ(seen.size(), 100u);
}

}  // namespace
}  // namespace ebbtide::server
