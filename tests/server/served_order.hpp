#pragma once
// A copy of the awning order on a simulated bench, served, and hands at the page that do what is asked.

#include <gtest/gtest.h>

#include <filesystem>
#include <functional>
#include <memory>
#include <string>
#include <thread>

#include "server/client.hpp"
#include "server/serve.hpp"
#include "support/program.hpp"

namespace ebbtide::testing_support {

inline constexpr const char* awning_key = "awning";

/// A folder that holds the order as `awning`.
class OrderToServe {
  public:
    OrderToServe() {
        std::filesystem::copy(EBBTIDE_SOURCE_DIR "/examples/awning-live", folder_ / awning_key,
                              std::filesystem::copy_options::recursive);
    }
    [[nodiscard]] std::string folder() const { return folder_.path(); }
    [[nodiscard]] std::string order() const { return folder_ / awning_key; }
    [[nodiscard]] server::ServeRequest request(const std::string& simulation = "simulation.toml",
                                               const std::string& pace = "fast") const {
        server::ServeRequest request;
        request.desk.folder = folder();
        request.desk.simulated = order() + "/" + simulation;
        request.desk.pace = pace;
        request.desk.now = [] { return parse_instant("2026-11-25T09:00:00Z").value(); };
        return request;
    }

  private:
    TemporaryFolder folder_;
};

/// The server of such a folder, and what its API says.
class Served {
  public:
    explicit Served(const server::ServeRequest& request)
        : serving_(server::Serving::open(request).value()), client{serving_->port(), serving_->token()} {}

    [[nodiscard]] nlohmann::json bench() const { return client.get("/api/bench").json(); }
    [[nodiscard]] nlohmann::json session() const { return bench()["session"]; }

    /// Begins what `path` names and answers every question until the session has ended. `answer` is given
    /// the question as an event has it. Returns what the session ended with.
    nlohmann::json go_through(
        const std::string& path, nlohmann::json body,
        const std::function<std::string(const nlohmann::json&)>& answer = [](const nlohmann::json&) {
            return "done";
        }) {
        Viewer viewer(client, bench()["event"].get<std::uint64_t>());
        body["order"] = awning_key;
        body["who"] = "TO";
        const auto begun = client.post(path, body);
        EXPECT_EQ(begun.status, 200) << begun.body;
        if (begun.status != 200) return {};
        std::size_t heard = 0;
        nlohmann::json ended;
        viewer.read(within(120), [&] {
            for (; heard < viewer.events.size(); ++heard) {
                const auto& event = viewer.events[heard].data;
                if (event["event"] == "session_ended") ended = event;
                if (event["event"] != "question_asked") continue;
                const auto& question = event["question"];
                const auto said = client.post(
                    "/api/bench/answer", {{"question", question["number"]}, {"answer", answer(question)}});
                EXPECT_EQ(said.status, 200) << said.body;
            }
            return !ended.is_null();
        });
        EXPECT_FALSE(ended.is_null()) << "the session did not end";
        events = std::move(viewer.events);
        // The thread ends a moment after it has said so.
        while (!session()["ended"].is_object()) std::this_thread::yield();
        return ended;
    }
    void check() {
        const auto ended = go_through("/api/bench/check", {{"closing", false}});
        EXPECT_TRUE(ended.value("done", false)) << ended;
        EXPECT_TRUE(session()["ended"]["good"]) << session();
    }
    [[nodiscard]] std::size_t count(const std::string& event) const {
        return static_cast<std::size_t>(
            std::ranges::count_if(events, [&](const auto& one) { return one.data["event"] == event; }));
    }
    void stop() { serving_.reset(); }

  private:
    std::unique_ptr<server::Serving> serving_;

  public:
    Client client;
    std::vector<Viewer::Event> events;  ///< of the last session
};

}  // namespace ebbtide::testing_support
