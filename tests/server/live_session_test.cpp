// An order worked through over HTTP, as a page does it, on the simulated bench.

#include <gtest/gtest.h>

#include <cstdio>
#include <map>
#include <mutex>
#include <optional>
#include <set>
#include <sstream>
#include <thread>

#include "server/served_order.hpp"
#include "support/documented_keys.hpp"

namespace ebbtide::server {
namespace {

using namespace testing_support;
using nlohmann::json;

/// Runs that have a place in the live file, by file name: their bytes.
std::map<std::string, std::string> recordings_of(const std::string& order) {
    std::map<std::string, std::string> out;
    std::error_code none;
    for (const auto& file : std::filesystem::directory_iterator(order + "/recordings", none))
        out[file.path().filename().string()] = bytes_of(file.path());
    return out;
}
std::vector<std::string> run_ids_of(const std::string& order) {
    std::vector<std::string> ids;
    std::istringstream live(bytes_of(order + "/live.toml"));
    for (std::string line; std::getline(live, line);)
        if (line.starts_with("run = ")) ids.push_back(line.substr(6));
    return ids;
}

std::vector<std::string> told(const std::vector<Viewer::Event>& events) {
    std::vector<std::string> out;
    for (const auto& event : events)
        if (event.data["event"] != "frame") out.push_back(event.data.dump());
    return out;
}
std::uint64_t samples(const Viewer& viewer) {
    std::uint64_t sum = viewer.samples;
    for (const auto& event : viewer.events)
        if (event.data["event"] == "frame" && event.data["channels"][0].is_object())
            sum += event.data["channels"][0]["samples"].get<std::uint64_t>();
    return sum;
}

TEST(LiveSession, ShowsHowTheBenchStandsBeforeAnythingGoesOn) {
    const OrderToServe order;
    const Served served(order.request());
    const json state = served.bench();
    EXPECT_EQ(state["schema"], "ebbtide.page-bench/1");
    EXPECT_EQ(state["event"], 0);
    EXPECT_TRUE(state["session"].is_null());
    ASSERT_EQ(state["benches"].size(), 1u);
    const json& bench = state["benches"][0];
    EXPECT_EQ(bench["bench"], "bench-3");
    EXPECT_EQ(bench["orders"], json::array({awning_key}));
    EXPECT_EQ(bench["check"]["asked"], true);
    EXPECT_EQ(bench["check"]["good"], false);
    EXPECT_NE(bench["check"]["reason"], "");
    EXPECT_EQ(bench["setup"].size(), 4u);
    EXPECT_EQ(served.client.post("/api/bench/answer", {{"question", 1}, {"answer", "done"}}).status, 409);
    EXPECT_EQ(served.client.post("/api/bench/pause", {{"paused", true}}).status, 409);
    EXPECT_EQ(served.client.post("/api/bench/abort", json::object()).status, 200) << "always";
}

TEST(LiveSession, DoesNotStartWithoutAGoodCheckOrSomebodyWhoAnswersForIt) {
    const OrderToServe order;
    Served served(order.request());
    const auto refused = served.client.post("/api/bench/start", {{"order", awning_key}, {"who", "TO"}});
    EXPECT_EQ(refused.status, 409);
    EXPECT_EQ(refused.json()["schema"], "ebbtide.error/1");
    EXPECT_EQ(served.client.post("/api/bench/start", {{"order", "nothing"}}).status, 404);
    EXPECT_EQ(served.client.post("/api/bench/start", {{"order", "../awning"}}).status, 404);
    EXPECT_EQ(served.client.post("/api/bench/start", {{"order", 7}}).status, 400);
    EXPECT_EQ(
        served.client.post("/api/bench/start", {{"order", awning_key}, {"override", "none made"}}).status,
        400)
        << "who answers for it?";
    EXPECT_EQ(
        served.client.post("/api/bench/start", {{"order", awning_key}, {"who", "TO"}, {"conditions", "wet"}})
            .status,
        400);
    EXPECT_EQ(served.client
                  .post("/api/bench/start", {{"order", awning_key}, {"who", "TO"}, {"sequence", "backwards"}})
                  .status,
              400);
    EXPECT_TRUE(served.session().is_null());
    EXPECT_FALSE(std::filesystem::exists(order.order() + "/live.toml"));
}

TEST(LiveSession, GoesFromTheOpeningCheckThroughFaultsToAFullPlan) {
    const OrderToServe order;
    Served served(order.request("simulation-faults.toml"));
    served.check();
    EXPECT_GT(served.count("step_recorded"), 5u);
    EXPECT_TRUE(served.bench()["benches"][0]["check"]["good"]) << served.bench();
    EXPECT_TRUE(served.bench()["benches"][0]["check"]["good_until"].is_string());
    // Ten minutes of a fast bench pass in a second: every page goes by its clock, not by ours.
    const json bench = served.bench(), today = served.client.get("/api/today").json();
    EXPECT_EQ(today["at"], bench["at"]);
    EXPECT_GT(today["at"].get<std::string>(), "2026-11-25T09:01:00Z");
    EXPECT_EQ(today["checks"][0]["good_until"], bench["benches"][0]["check"]["good_until"]);

    std::set<std::string> kinds;
    const json ended =
        served.go_through("/api/bench/start", {{"sequence", "alternated"}}, [&](const json& question) {
            kinds.insert(question["kind"].get<std::string>());
            return "done";
        });
    EXPECT_EQ(ended["done"], true) << ended;
    EXPECT_EQ(ended["open"], 0);
    EXPECT_GE(ended["aborted"], 3) << "three of the faults stop a run";
    EXPECT_EQ(kinds.count("setup") + kinds.count("mount") + kinds.count("look"), 3u);
    const json state = served.bench(), &session = state["session"];
    EXPECT_EQ(keys_of(state), documented("page.md", "## ebbtide.page-bench/1"));
    EXPECT_EQ(keys_of(session), documented("page.md", "### A session"));
    EXPECT_EQ(keys_of(state["benches"][0]), documented("page.md", "### A bench of the page"));
    EXPECT_EQ(session["key"], awning_key);
    EXPECT_EQ(session["ended"]["good"], true);
    EXPECT_TRUE(session["question"].is_null());
    EXPECT_EQ(state["benches"][0]["orders"], json::array()) << "nothing is open any more";
    ASSERT_GT(session["places"].size(), 0u);
    for (const json& place : session["places"]) EXPECT_EQ(place["filled"], true) << place;
    EXPECT_EQ(run_ids_of(order.order()).size(), served.count("run_recorded"));
    const auto phases = served.count("phase_entered");
    EXPECT_GT(phases, 5 * session["places"].size());
    // Numbers rise by one but for frames that were merged: no other event is left out.
    std::uint64_t last = session["first_event"].get<std::uint64_t>() - 1;
    for (const auto& event : served.events) {
        EXPECT_GE(event.id, last);
        last = event.id;
    }
    // A script that comes afterwards gets the whole session again, from the number that the state names.
    Viewer later(served.client, session["first_event"].get<std::uint64_t>() - 1);
    later.read(within(20), [&] { return later.seen("session_ended"); });
    EXPECT_EQ(told(later.events), told(served.events));
}

TEST(LiveSession, SaysWhyAFastCheckDoesNotCountOnABenchThatKeepsTime) {
    const OrderToServe order;
    {
        Served fast(order.request());
        fast.check();
    }
    const Served real(order.request("simulation.toml", "real"));
    const json check = real.bench()["benches"][0]["check"];
    EXPECT_EQ(check["good"], false);
    EXPECT_TRUE(check["good_until"].is_null());
    const json today = real.client.get("/api/today").json()["checks"][0];
    const auto refused = real.client.post("/api/bench/start", {{"order", awning_key}, {"who", "TO"}});
    EXPECT_EQ(refused.status, 409);
    for (const json& told : {check["reason"], today["words"], refused.json()["what"]}) {
        EXPECT_NE(told.get<std::string>().find("that of 2026-11-25T09:"), std::string::npos) << told;
        EXPECT_NE(told.get<std::string>().find("lies ahead of now"), std::string::npos) << told;
    }
}

TEST(LiveSession, ShowsTwoWindowsTheSameQuestionAndHearsTheFirst) {
    const OrderToServe order;
    Served served(order.request());
    ASSERT_EQ(served.client.post("/api/bench/check", {{"order", awning_key}, {"who", "TO"}}).status, 200);
    EXPECT_EQ(served.client.post("/api/bench/check", {{"order", awning_key}}).status, 409) << "one at a time";
    EXPECT_EQ(served.client.post("/api/bench/start", {{"order", awning_key}}).status, 409);
    Viewer one(served.client, 0), two(served.client, 0);
    for (Viewer* window : {&one, &two}) {
        window->read(within(20), [&] { return window->seen("question_asked"); });
        ASSERT_TRUE(window->seen("question_asked"));
    }
    const json question = served.session()["question"];
    ASSERT_TRUE(question.is_object());
    EXPECT_EQ(question["number"], 1);
    EXPECT_EQ(one.events.back().data["question"], two.events.back().data["question"]);
    int heard = 0, late = 0;
    std::vector<std::thread> windows;
    std::mutex mutex;
    for (int i = 0; i < 8; ++i)
        windows.emplace_back([&] {
            const int status =
                served.client.post("/api/bench/answer", {{"question", 1}, {"answer", "done"}}).status;
            const std::lock_guard lock(mutex);
            heard += status == 200;
            late += status == 409;
        });
    for (std::thread& window : windows) window.join();
    EXPECT_EQ(heard, 1);
    EXPECT_EQ(late, 7);
    EXPECT_EQ(served.client.post("/api/bench/answer", {{"question", 99}, {"answer", "done"}}).status, 409);
    EXPECT_EQ(served.client.post("/api/bench/answer", {{"question", 2}, {"answer", "perhaps"}}).status, 400);
}

TEST(LiveSession, GoesOnWhenEveryWindowIsClosedAndEndsWhenItIsAborted) {
    const OrderToServe order;
    Served served(order.request("simulation.toml", "20"));
    ASSERT_EQ(
        served.client.post("/api/bench/start", {{"order", awning_key}, {"who", "TO"}, {"override", "a test"}})
            .status,
        200);
    std::uint64_t number = 0;
    const auto answer_all = [&](const auto& until) {
        const Deadline deadline = within(60);
        while (std::chrono::steady_clock::now() < deadline) {
            const json session = served.session(), question = session["question"];
            if (until(session)) return true;
            if (question.is_object() && question["number"] > number) {
                number = question["number"];
                EXPECT_EQ(served.client.post("/api/bench/answer", {{"question", number}, {"answer", "done"}})
                              .status,
                          200);
            }
            std::this_thread::sleep_for(std::chrono::milliseconds(5));
        }
        return false;
    };
    // No window is open at all: the state alone is asked for now and then. Once it was holding, any phase may
    // have come meanwhile.
    EXPECT_TRUE(answer_all([](const json& session) { return session["phase"] == "holding"; }));
    EXPECT_EQ(served.client.post("/api/bench/abort", json::object()).status, 200);
    EXPECT_TRUE(answer_all([](const json& session) { return session["ended"].is_object(); }));
    const json session = served.session();
    EXPECT_EQ(session["ended"]["good"], false);
    EXPECT_NE(session["ended"]["reason"], "");
    // The log holds the last command of each kind: off, and earthed.
    const std::string log = bytes_of(order.order() + "/drive.log.jsonl");
    EXPECT_GT(log.rfind("output_off"), log.rfind("output_on\""));
    EXPECT_GT(log.rfind("earth_clamps"), log.rfind("lift_earth"));
}

TEST(LiveSession, SwitchesOffWhenTheServerEnds) {
    const OrderToServe order;
    std::optional<Served> served(std::in_place, order.request("simulation.toml", "20"));
    ASSERT_EQ(served->client
                  .post("/api/bench/start", {{"order", awning_key}, {"who", "TO"}, {"override", "a test"}})
                  .status,
              200);
    std::uint64_t number = 0;
    const Deadline deadline = within(60);
    for (json session; std::chrono::steady_clock::now() < deadline;) {
        session = served->session();
        if (session["phase"] == "holding") break;
        const json question = session["question"];
        if (question.is_object() && question["number"] > number) {
            number = question["number"];
            served->client.post("/api/bench/answer", {{"question", number}, {"answer", "done"}});
        }
    }
    const auto began = std::chrono::steady_clock::now();
    served.reset();
    EXPECT_LT(std::chrono::steady_clock::now() - began, std::chrono::seconds(5));
    const std::string log = bytes_of(order.order() + "/drive.log.jsonl");
    EXPECT_NE(log.find("output_on\""), std::string::npos) << "it was on";
    EXPECT_GT(log.rfind("output_off"), log.rfind("output_on\""));
    EXPECT_GT(log.rfind("earth_clamps"), log.rfind("lift_earth"));
}

TEST(LiveSession, PausesBeforeTheNextRunAndGoesOn) {
    const OrderToServe order;
    Served served(order.request());
    bool paused = false;
    int held = 0;
    const json ended =
        served.go_through("/api/bench/start", {{"override", "a test"}}, [&](const json& question) {
            if (!paused && question["kind"] == "mount") {
                paused = true;
                EXPECT_EQ(served.client.post("/api/bench/pause", {{"paused", true}}).status, 200);
                EXPECT_EQ(served.session()["paused"], true);
            }
            if (question["kind"] == "leave" && question["words"].get<std::string>().starts_with("Paused")) {
                EXPECT_EQ(served.session()["paused"], true);
                ++held;
            }
            return "done";
        });
    EXPECT_EQ(held, 1);
    EXPECT_EQ(served.session()["paused"], false);
    EXPECT_EQ(ended["done"], true) << ended;
    EXPECT_EQ(served.count("pause_asked"), 1u);
}

/// Drives the whole order at one seed, with what `meanwhile` does beside it.
std::map<std::string, std::string> driven(const std::function<void(Served&)>& before,
                                          const std::function<void(Served&)>& after,
                                          std::vector<std::string>& ids) {
    const OrderToServe order;
    auto request = order.request();
    request.seed = 4711;
    Served served(request);
    before(served);
    const json ended = served.go_through("/api/bench/start", {{"override", "a test"}});
    EXPECT_EQ(ended["done"], true) << ended;
    ids = run_ids_of(order.order());
    after(served);
    served.stop();
    return recordings_of(order.order());
}

#ifdef __SANITIZE_ADDRESS__
constexpr std::size_t watchers = 10;  // every one of them reads JSON ten times as slowly
#else
constexpr std::size_t watchers = 50;
#endif

TEST(LiveSession, LosesNoSampleToFiftyViewersHoweverSlow) {
    std::vector<std::string> alone_ids, watched_ids;
    std::uint64_t recorded = 0;
    const auto alone = driven([](Served&) {}, [](Served&) {}, alone_ids);

    struct Window {
        std::unique_ptr<Viewer> viewer;
        std::thread thread;
        bool slow = false, at_end = false;
    };
    std::vector<Window> windows(watchers);
    const auto watched = driven(
        [&](Served& served) {
            for (std::size_t i = 0; i < windows.size(); ++i) {
                Window& window = windows[i];
                window.slow = i % 5 == 0;
                window.viewer = std::make_unique<Viewer>(served.client, 0, false, window.slow ? 2048 : 0);
                window.viewer->only_counts_frames = i > 1;  // one slow and one quick window read them
                window.thread = std::thread([&window] {
                    // A slow one takes a kilobyte, thinks, and takes another.
                    window.viewer->read(
                        within(120),
                        [&window] {
                            if (window.slow && !window.viewer->seen("session_ended"))
                                std::this_thread::sleep_for(std::chrono::milliseconds(4));
                            return window.at_end = window.viewer->seen("session_ended");
                        },
                        window.slow ? 1024 : 65536);
                });
            }
        },
        [&](Served& served) {
            for (Window& window : windows) window.thread.join();
            Viewer later(served.client, 0);
            later.read(within(20), [&] { return later.seen("session_ended"); });
            recorded = samples(later);
        },
        watched_ids);

    ASSERT_GT(alone_ids.size(), 3u);
    EXPECT_EQ(watched_ids, alone_ids) << "the ids of runs are hashes of their samples";
    EXPECT_EQ(watched, alone) << "files, byte for byte";

    const auto all = told(windows[1].viewer->events);
    std::size_t coarsest = ~std::size_t{0}, finest = 0;
    for (const Window& window : windows) {
        EXPECT_TRUE(window.at_end);
        EXPECT_EQ(told(window.viewer->events), all) << "every other event, once";
        // A frame that was merged behind the back of a viewer may show it samples again; none is left out.
        EXPECT_GE(samples(*window.viewer), recorded);
        const std::size_t frames = window.viewer->frames + window.viewer->events.size() - all.size();
        coarsest = std::min(coarsest, frames);
        finest = std::max(finest, frames);
    }
    std::printf("[ note     ] frames: %zu to %zu\n", coarsest, finest);
    EXPECT_LT(coarsest, finest);
}

}  // namespace
}  // namespace ebbtide::server
