// The wire, with a handler that only says what it heard: what is bounded, what is refused, what stays alive.

#include "server/http.hpp"

#include <gtest/gtest.h>

#include <atomic>
#include <map>
#include <thread>

#include "server/client.hpp"

namespace ebbtide::server {
namespace {

using nlohmann::json;
using testing_support::Client;
using testing_support::Socket;
using testing_support::Viewer;
using testing_support::within;

std::atomic<int> slow_begun = 0;

Reply echo(const Request& request) {
    if (request.path == "/throws") throw std::runtime_error("a broken invariant");
    if (request.path == "/long") return {200, "text/plain", std::string(8 << 20, 'x'), {}};
    if (request.path == "/slow") {
        ++slow_begun;
        std::this_thread::sleep_for(std::chrono::milliseconds(300));
    }
    if (request.path == "/header")
        return {200,
                "text/html",
                "",
                {{"Content-Disposition", request.query.at("name")},
                 {"content-security-policy", "sandbox"},
                 {"X-Bad", "a\r\nSet-Cookie: stolen=1"}}};
    return json_reply({{"method", request.method},
                       {"path", request.path},
                       {"query", request.query},
                       {"bytes", request.body.size()},
                       {"body", request.body.substr(0, 100)},
                       {"type", request.content_type}});
}

/// A server of its own.
struct Wired {
    explicit Wired(const HttpLimits& limits = {})
        : server(HttpServer::open("127.0.0.1", 0, echo, feed, limits).value()),
          client{server->port(), server->token()} {}
    LiveFeed feed;
    std::unique_ptr<HttpServer> server;
    Client client;
};

HttpLimits quick() {
    HttpLimits limits;
    limits.head = limits.body = std::chrono::milliseconds(300);
    limits.idle = std::chrono::milliseconds(600);
    limits.beat = std::chrono::milliseconds(100);
    limits.write = std::chrono::milliseconds(1000);
    return limits;
}

TEST(Http, AnswersWhoHoldsTheToken) {
    Wired served;
    const auto answer = served.client.get("/api/some%20thing?a=1");
    EXPECT_EQ(answer.status, 200);
    EXPECT_EQ(answer.json()["path"], "/api/some thing");
    EXPECT_EQ(answer.json()["query"]["a"], "1");
    EXPECT_EQ(answer.header("Content-Type"), "application/json");
    const auto posted = served.client.post("/api/x", {{"key", "value"}});
    EXPECT_EQ(posted.json()["body"], R"({"key":"value"})");
    EXPECT_EQ(posted.json()["type"], "application/json");
}

TEST(Http, SendsEveryReplyWithItsGuards) {
    Wired served;
    Socket stranger(served.client.port);
    stranger.send("GET /api/bench HTTP/1.1\r\nHost: localhost:1\r\n\r\n");
    for (const auto& answer : {served.client.get("/"), served.client.get("/throws"), stranger.answer()}) {
        EXPECT_NE(answer.header("Content-Security-Policy").find("default-src 'none'"), std::string::npos);
        EXPECT_EQ(answer.header("Content-Security-Policy").find("unsafe"), std::string::npos);
        EXPECT_EQ(answer.header("X-Content-Type-Options"), "nosniff");
        EXPECT_EQ(answer.header("Referrer-Policy"), "no-referrer");
        EXPECT_EQ(answer.header("Cache-Control"), "no-store");
        EXPECT_EQ(answer.header("X-Frame-Options"), "SAMEORIGIN");
        EXPECT_EQ(answer.header("Access-Control-Allow-Origin"), "");
    }
}

TEST(Http, LetsAHandlerReplaceAHeaderAndInjectNone) {
    Wired served;
    const auto answer = served.client.get("/header?name=a%20b.csv");
    EXPECT_EQ(answer.header("Content-Disposition"), "a b.csv");
    EXPECT_EQ(answer.header("Content-Security-Policy"), "sandbox");
    EXPECT_EQ(answer.head.find("stolen"), std::string::npos);
    EXPECT_EQ(served.client.get("/header?name=a%0d%0aX:%201").status, 400);
}

TEST(Http, OpensOnceByTheAddressThatWasPrinted) {
    Wired served;
    const std::string host = "Host: localhost:" + std::to_string(served.client.port) + "\r\n";
    EXPECT_NE(served.server->entry().find("/?token=" + served.client.token), std::string::npos);
    Socket browser(served.client.port);
    browser.send("GET /?token=" + served.client.token + " HTTP/1.1\r\n" + host + "\r\n");
    const auto entry = browser.answer();
    EXPECT_EQ(entry.status, 303);
    EXPECT_EQ(entry.header("Location"), "/");
    const std::string cookie = entry.header("Set-Cookie");
    browser.send("GET / HTTP/1.1\r\n" + host + "Cookie: " + cookie.substr(0, cookie.find(';')) + "\r\n\r\n");
    EXPECT_EQ(browser.answer().status, 200) << "on the same connection";
    browser.send("GET / HTTP/1.1\r\n" + host + "\r\n");
    const auto refused = browser.answer();
    EXPECT_EQ(refused.status, 401);
    EXPECT_NE(refused.body.find("ebbtide serve"), std::string::npos) << "it says what to do";
    Socket guess(served.client.port);
    guess.send("GET /?token=" + std::string(32, '0') + " HTTP/1.1\r\n" + host + "\r\n");
    EXPECT_EQ(guess.answer().status, 401);
}

TEST(Http, StandsBesideAnotherInOneBrowser) {
    // RFC 6265, section 8.5: cookies of a host go to all its ports, one a name.
    Wired one, other;
    std::map<std::string, std::string> jar;
    const auto visit = [&](const Client& server, const std::string& target) {
        std::string cookies;
        for (const auto& [name, value] : jar) cookies += (cookies.empty() ? "" : "; ") + name + "=" + value;
        Socket browser(server.port);
        browser.send("GET " + target + " HTTP/1.1\r\nHost: 127.0.0.1:" + std::to_string(server.port) +
                     "\r\nCookie: " + cookies + "\r\n\r\n");
        const auto answer = browser.answer();
        const std::string set = answer.header("Set-Cookie");
        if (const std::size_t equals = set.find('='); equals != std::string::npos)
            jar[set.substr(0, equals)] = set.substr(equals + 1, set.find(';') - equals - 1);
        return answer.status;
    };
    EXPECT_EQ(visit(one.client, "/?token=" + other.client.token), 401);
    EXPECT_EQ(visit(one.client, "/?token=" + one.client.token), 303);
    EXPECT_EQ(visit(one.client, "/"), 200);
    EXPECT_EQ(visit(other.client, "/"), 401) << "the cookie came along, and is of another server";
    EXPECT_EQ(visit(other.client, "/?token=" + other.client.token), 303);
    EXPECT_EQ(visit(other.client, "/"), 200);
    EXPECT_EQ(visit(one.client, "/"), 200) << "still let in";
    // Each by the other's token under its own name.
    ASSERT_EQ(jar.size(), 2u);
    std::swap(jar.begin()->second, jar.rbegin()->second);
    EXPECT_EQ(visit(one.client, "/"), 401);
    EXPECT_EQ(visit(other.client, "/"), 401);
}

TEST(Http, AnswersPipelinedRequestsInTheirOrder) {
    Wired served;
    Socket socket(served.client.port);
    std::string all;
    for (int i = 0; i < 20; ++i)
        all += i % 3 == 0 ? served.client.whole_post("/api/" + std::to_string(i), std::string(700, ' '))
                          : served.client.head("GET", "/api/" + std::to_string(i));
    ASSERT_TRUE(socket.send(all));
    for (int i = 0; i < 20; ++i) {
        const auto answer = socket.answer();
        ASSERT_EQ(answer.status, 200) << i;
        EXPECT_EQ(answer.json()["path"], "/api/" + std::to_string(i));
    }
}

TEST(Http, AnswersHeadWithoutABody) {
    Wired served;
    Socket socket(served.client.port);
    socket.send(served.client.head("HEAD", "/api/a") + served.client.head("GET", "/api/b"));
    const auto head = socket.answer(30, true);
    EXPECT_EQ(head.status, 200);
    EXPECT_NE(head.header("Content-Length"), "0");
    EXPECT_EQ(socket.answer().json()["path"], "/api/b");
}

TEST(Http, BoundsHeadsAndBodies) {
    Wired served;
    const Client& client = served.client;
    EXPECT_EQ(client.send(client.head("GET", "/" + std::string(7000, 'a'))).status, 200);
    EXPECT_EQ(client.send(client.head("GET", "/" + std::string(9000, 'a'))).status, 431);
    EXPECT_EQ(client.send(client.head("GET", "/", "X: " + std::string(9000, 'a') + "\r\n")).status, 431);
    const std::string fits((1 << 20) - 2, ' ');
    EXPECT_EQ(client.send(client.whole_post("/api/x", fits + "{}")).json()["bytes"], 1 << 20);
    EXPECT_EQ(client.send(client.whole_post("/api/x", fits + "{} ")).status, 413);
    EXPECT_EQ(client
                  .send(client.head("POST", "/api/x",
                                    "Content-Type: application/json\r\nContent-Length: 99999999999\r\n"))
                  .status,
              413);
    EXPECT_EQ(client.send(client.whole_post("/api/imports", fits + fits, "application/octet-stream"))
                  .json()["bytes"],
              2 * fits.size());
    EXPECT_EQ(client
                  .send(client.head("POST", "/api/imports",
                                    "Content-Type: application/octet-stream\r\nContent-Length: 67108865\r\n"))
                  .status,
              413);
    EXPECT_EQ(client.send(client.head("GET", "/api/x", "Content-Length: 3\r\n") + "abc").status, 400);
}

TEST(Http, BoundsChunkedBodies) {
    Wired served;
    const Client& client = served.client;
    const std::string head =
        client.head("POST", "/api/x", "Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n");
    EXPECT_EQ(client.send(head + "2\r\n{}\r\n3;ext=1\r\n   \r\n0\r\n\r\n").json()["bytes"], 5);
    const std::string chunk = "10000\r\n" + std::string(0x10000, ' ') + "\r\n";
    Socket endless(client.port);
    endless.send(head);
    int sent = 0;
    while (sent < 4096 && endless.send(chunk, 1)) ++sent;
    EXPECT_LT(sent, 200) << "of 64 KiB each; 1 MiB is taken, and what is in the system's buffers";
    EXPECT_EQ(client.send(head + "ffffffffffffffff\r\n").status, 413);
    EXPECT_EQ(client.send(head + "2;" + std::string(40'000, 'x')).status, 431) << "a chunk's own head";
    EXPECT_EQ(client.send(head + "zz\r\n").status, 400);
}

TEST(Http, InvitesABodyThatWaits) {
    Wired served;
    Socket socket(served.client.port);
    socket.send(served.client.head("POST", "/api/x",
                                   "Content-Type: application/json\r\nContent-Length: 2\r\n"
                                   "Expect: 100-continue\r\n"));
    EXPECT_EQ(socket.answer(10, true).status, 100);
    socket.send("{}");
    EXPECT_EQ(socket.answer().json()["bytes"], 2);
}

TEST(Http, BoundsTheTimeOfSlowSenders) {
    Wired served(quick());
    const Client& client = served.client;
    Socket idle(client.port), slow_head(client.port), slow_body(client.port);
    slow_head.send("GET / HTTP/1.1\r\nHost:");
    slow_body.send(
        client.head("POST", "/api/x", "Content-Type: application/json\r\nContent-Length: 100\r\n") + "{");
    // Each byte comes soon after the one before it, and that does not help.
    const auto until = within(5);
    bool head_open = true, body_open = true;
    int pieces = 0;
    while ((head_open || body_open) && std::chrono::steady_clock::now() < until) {
        ++pieces;
        head_open = head_open && slow_head.send(" ", 0.1);
        body_open = body_open && slow_body.send(" ", 0.1);
        std::this_thread::sleep_for(std::chrono::milliseconds(20));
    }
    EXPECT_FALSE(head_open || body_open);
    EXPECT_GT(pieces, 5);
    EXPECT_EQ(idle.rest(5), "");
    EXPECT_TRUE(idle.ended());
    EXPECT_EQ(client.get("/").status, 200);
}

TEST(Http, SaysThatItIsFull) {
    HttpLimits limits;
    limits.clients = 4;
    limits.viewers = 2;
    limits.queue = 2;
    limits.handlers = 1;
    Wired served(limits);
    const Client& client = served.client;
    {
        // Heads that are not whole hold their places.
        std::vector<Socket> held;
        for (int i = 0; i < 4; ++i) held.emplace_back(client.port).send("GET /");
        while (true) {
            const auto answer = client.get("/");
            if (answer.status == 503) {
                EXPECT_EQ(answer.header("Retry-After"), "1");
                break;
            }
            std::this_thread::sleep_for(std::chrono::milliseconds(5));
        }
        EXPECT_EQ(served.feed.last(), 0u);
    }
    {
        // Who is connected and asks for nothing makes room.
        std::vector<Socket> idle;
        for (int i = 0; i < 20; ++i) idle.emplace_back(client.port);
        int status = 0;
        for (int i = 0; i < 200 && status != 200; ++i) status = client.get("/").status;
        EXPECT_EQ(status, 200);
    }
    {
        Viewer one(client, {}), two(client, {});
        one.read(within(5), [&] { return !one.head.empty(); });
        two.read(within(5), [&] { return !two.head.empty(); });
        EXPECT_EQ(client.get("/api/live").status, 503);
        EXPECT_EQ(client.get("/").status, 200) << "viewers take no place of a client";
    }
    int status = 0;
    const auto until = within(5);
    while (status != 200 && std::chrono::steady_clock::now() < until) {
        Viewer again(client, {});
        again.read(within(1), [&] { return !again.head.empty(); });
        status = again.head.starts_with("HTTP/1.1 200") ? 200 : 0;
    }
    EXPECT_EQ(status, 200) << "a viewer that goes leaves its place at once";

    std::vector<Socket> busy;
    for (int i = 0; i < 4; ++i) busy.emplace_back(client.port).send(client.head("GET", "/slow"));
    int full = 0, answered = 0;
    for (Socket& one : busy) {
        const int got = one.answer().status;
        full += got == 503;
        answered += got == 200;
    }
    EXPECT_EQ(full + answered, 4);
    EXPECT_GE(full, 1);
    EXPECT_GE(answered, 2);
}

TEST(Http, SurvivesWhoGoesAwayInTheMiddle) {
    Wired served;
    for (int i = 0; i < 30; ++i) {
        Socket socket(served.client.port);
        if (i % 3 == 0) socket.send(served.client.head("GET", "/slow"));
        if (i % 3 == 1) {
            socket.send(served.client.head("GET", "/long"));
            socket.some(within(5), 100);
        }
        if (i % 3 == 2) socket.send(served.client.whole_post("/api/x", "{}").substr(0, 150));
    }
    EXPECT_EQ(served.client.get("/long").body.size(), std::size_t{8 << 20});
    EXPECT_EQ(served.client.get("/throws").status, 500);
}

TEST(Http, ListensOnThisComputerAlone) {
    LiveFeed feed;
    for (const char* address : {"0.0.0.0", "192.0.2.1", "::", "bench.example", ""}) {
        const auto open = HttpServer::open(address, 0, echo, feed);
        ASSERT_FALSE(open.ok()) << address;
        EXPECT_NE(open.error().remedy.find("Nobody signs in"), std::string::npos);
    }
    Wired served;
    const auto taken = HttpServer::open("127.0.0.1", served.client.port, echo, feed);
    ASSERT_FALSE(taken.ok());
    EXPECT_NE(taken.error().where.find(std::to_string(served.client.port)), std::string::npos);
}

TEST(Http, StopsWhileItIsWorking) {
    slow_begun = 0;
    std::optional<Wired> served(std::in_place);
    Viewer viewer(served->client, {});
    viewer.read(within(5), [&] { return !viewer.head.empty(); });
    Socket idle(served->client.port), slow(served->client.port), half(served->client.port);
    slow.send(served->client.head("GET", "/slow"));
    half.send("GET /");
    const auto until = within(30);
    while (slow_begun == 0 && std::chrono::steady_clock::now() < until)
        std::this_thread::sleep_for(std::chrono::milliseconds(5));
    const auto began = std::chrono::steady_clock::now();
    std::thread stops([&] { served->server->stop(); });
    EXPECT_EQ(slow.answer().status, 200) << "what was being worked on is answered";
    stops.join();
    EXPECT_LT(std::chrono::steady_clock::now() - began, std::chrono::seconds(5));
    const Client client = served->client;
    served.reset();
    EXPECT_FALSE(Socket(client.port).connected());
    viewer.read(within(5), [] { return false; });
    EXPECT_TRUE(viewer.ended());
}

TEST(Http, FeedsViewersFromTheNumberTheyName) {
    Wired served(quick());
    served.feed.publish(work::Prompt{"1"});
    served.feed.publish(work::Prompt{"2"});
    Viewer now(served.client, {}), first(served.client, 0), second(served.client, 1),
        back(served.client, 1, true);
    now.read(within(5), [&] { return !now.head.empty(); });
    served.feed.publish(work::Prompt{"3"});
    for (Viewer* viewer : {&now, &first, &second, &back})
        viewer->read(within(5), [&] { return viewer->last() == 3; });
    EXPECT_EQ(now.events.size(), 1u);
    EXPECT_EQ(first.events.size(), 3u);
    EXPECT_EQ(second.events.size(), 2u);
    EXPECT_EQ(back.events.size(), 2u);
    EXPECT_NE(first.head.find("text/event-stream"), std::string::npos);
    now.read(within(5), [&] { return now.comments >= 3; });
    EXPECT_GE(now.comments, 3u) << "a sign of life while nothing happens";
    EXPECT_EQ(served.client.get("/api/live?after=x").status, 400);
    EXPECT_EQ(served.client.get("/api/live?after=-1").status, 400);
}

TEST(Http, LosesNoEventOfAViewerThatComesAndGoes) {
    Wired served;
    std::thread teller([&] {
        for (int i = 0; i < 3000; ++i) {
            served.feed.publish(work::Frame{0.1 * i, 0.1 * i + 0.1, {{1, 0, 0, 0}}});
            if (i % 10 == 0) served.feed.publish(work::Prompt{std::to_string(i)});
            if (i % 100 == 0) std::this_thread::sleep_for(std::chrono::milliseconds(20));
        }
        served.feed.publish(work::Prompt{"end"});
    });
    std::vector<std::string> heard;
    std::uint64_t after = 0;
    int visits = 0;
    const auto until = within(30);
    while ((heard.empty() || heard.back() != "end") && std::chrono::steady_clock::now() < until) {
        Viewer viewer(served.client, after, ++visits > 1);
        const std::size_t enough = 1 + static_cast<std::size_t>(visits * 7 % 40);
        viewer.read(
            within(1),
            [&] {
                return viewer.events.size() >= enough ||
                       (!viewer.events.empty() && viewer.last() == served.feed.last());
            },
            997);
        for (const auto& event : viewer.events)
            if (event.data["event"] == "prompt") heard.push_back(event.data["text"].get<std::string>());
        if (!viewer.events.empty()) after = viewer.last();
    }
    teller.join();
    ASSERT_EQ(heard.size(), 301u);
    for (std::size_t i = 0; i < 300; ++i) EXPECT_EQ(heard[i], std::to_string(10 * i));
    EXPECT_GT(visits, 5);
}

}  // namespace
}  // namespace ebbtide::server
