// One run: its samples in a window, its law, where it comes from, notes on it, and itself as a file.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "paperwork/paperwork.hpp"
#include "recording/source.hpp"
#include "support/api_desk.hpp"
#include "work/measure.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using nlohmann::json;

class ApiRuns : public JudgedDesk {
  protected:
    std::string first_of(const std::string& key) {
        return "/api/orders/" + key + "/runs/" + runs_of(key).at(0);
    }
    plan::Bench bench_of(const std::string& key) {
        return paperwork::parse_bench(bytes_of(path(key + "/bench.toml")), "bench.toml").value();
    }
};

using ApiRunsAlone = ApiDesk;

TEST_F(ApiRuns, ShowWhatTheyDecide) {
    const std::string path = first_of("halyard-cloth");
    const json order = got("/api/orders/halyard-cloth"), shown = got(path);
    EXPECT_EQ(shown["run"], order["judgement"]["runs"][0]);
    ASSERT_FALSE(shown["findings"].empty());
    for (const json& finding : shown["findings"]) EXPECT_NE(finding["sentence"], "");
    EXPECT_EQ(shown["recording"]["file"], "recordings/W1.csv");
    EXPECT_TRUE(shown["before"].is_null());
    EXPECT_EQ(shown["after"], runs_of("halyard-cloth").at(1));
    bad(get("/api/orders/film-insulator/runs/" + runs_of("halyard-cloth").at(0)), 404);
}

TEST_F(ApiRuns, GiveTheSamplesThemselvesWhereTheyAreFew) {
    const json trace = got(first_of("halyard-cloth") + "/trace", {{"from_s", "-0.01"}, {"to_s", "0.01"}});
    EXPECT_EQ(trace["thinned"], false);
    EXPECT_EQ(trace["specimen"]["time_s"].size(), trace["in_window"]);
    EXPECT_GT(trace["in_window"], 0u);
    // Seconds from the release are a difference of the recording's own: a last digit may round.
    for (const json& time : trace["specimen"]["time_s"])
        EXPECT_LE(std::abs(time.get<double>()), 0.01 + 1e-12);
    EXPECT_EQ(trace["electrode"]["time_s"].size(), trace["electrode"]["volts_V"].size());
}

TEST_F(ApiRuns, KeepTheExtremesWhenTheyAreThinned) {
    const std::string run = first_of("halyard-cloth");
    const json all = got(run + "/trace", {{"columns", "20000"}}),
               few = got(run + "/trace", {{"columns", "50"}});
    ASSERT_EQ(all["thinned"], false);
    EXPECT_EQ(few["thinned"], true);
    EXPECT_LE(few["specimen"]["volts_V"].size(), 100u);
    for (const char* channel : {"specimen", "electrode"}) {
        const auto whole = all[channel]["volts_V"].get<std::vector<double>>(),
                   thin = few[channel]["volts_V"].get<std::vector<double>>();
        EXPECT_EQ(std::ranges::min(thin), std::ranges::min(whole));
        EXPECT_EQ(std::ranges::max(thin), std::ranges::max(whole));
    }
    EXPECT_EQ(all["samples"], all["specimen"]["time_s"].size());
}

TEST_F(ApiRuns, LieOnTheirFiguresWhateverTheirPolarity) {
    // After zero and sign each run falls from V0: where a level was crossed the samples pass its volts.
    for (const std::string& id : runs_of("film-insulator")) {
        const json trace = got("/api/orders/film-insulator/runs/" + id + "/trace", {{"columns", "20000"}});
        for (const json& level : trace["levels"]) {
            if (level["status"] != "measured") continue;
            const auto time_s = trace["specimen"]["time_s"].get<std::vector<double>>(),
                       volts = trace["specimen"]["volts_V"].get<std::vector<double>>();
            const auto at = static_cast<std::size_t>(
                std::ranges::lower_bound(time_s, level["decay_s"].get<double>()) - time_s.begin());
            // Noise of these recordings is some 10 V; the level is a fraction of 5 kV.
            EXPECT_NEAR(volts.at(at), level["level_V"].get<double>(), 100) << id;
        }
    }
}

TEST_F(ApiRunsAlone, AreShownBeforeTheirOrderIsJudged) {
    // The id is made of the samples alone: measuring the file gives it too.
    const std::string file = path("bench-faults/recordings/relay-bounces.csv");
    const std::string run_id = run({"measure", file, "--bench", path("bench-faults/bench.toml"), "--json"})
                                   .json()["files"][0]["runs"][0]["run"];
    const std::string trace = "/api/orders/bench-faults/runs/" + run_id + "/trace";
    const auto statement = [&] {
        const json all = got("/api/orders");
        for (const json& one : all["orders"])
            if (one["key"] == "bench-faults") return one["statement"];
        return json("the order is not listed");
    };
    const json before = got(trace);
    EXPECT_TRUE(statement().is_null()) << "nobody has judged the order yet";
    EXPECT_GT(before["samples"], 0);
    ASSERT_FALSE(before["levels"].empty());
    for (const json& level : before["levels"]) EXPECT_TRUE(level["u_decay_s"].is_null());
    bad(get("/api/orders/bench-faults/runs/" + std::string(64, '0') + "/trace"), 404);
    EXPECT_TRUE(statement().is_null());

    // The judgement adds how uncertain the levels are, and nothing else.
    got("/api/orders/bench-faults");
    EXPECT_FALSE(statement().is_null());
    const auto without_uncertainty = [](json shown) {
        std::size_t uncertain = 0;
        for (json& level : shown["levels"]) {
            uncertain += level["u_decay_s"].is_number();
            level["u_decay_s"] = nullptr;
        }
        EXPECT_GT(uncertain, 0u);
        return shown;
    };
    EXPECT_EQ(without_uncertainty(got(trace)), before);
    bad(get("/api/orders/bench-faults/runs/" + std::string(64, '0') + "/trace"), 404);

    // Nor does it change the picture when the run is read for the first time after it.
    open();
    got("/api/orders/bench-faults");
    EXPECT_EQ(without_uncertainty(got(trace)), before);
}

TEST_F(ApiRuns, RefuseWindowsThatAreNone) {
    const std::string trace = first_of("halyard-cloth") + "/trace";
    bad(get(trace, {{"from_s", "2"}, {"to_s", "1"}}), 400);
    bad(get(trace, {{"from_s", "nan"}}), 400);
    bad(get(trace, {{"columns", "0"}}), 400);
    bad(get(trace, {{"columns", "1e9"}}), 400);
    bad(get(trace, {{"to_s", "1; DROP TABLE"}}), 400);
    EXPECT_EQ(got(trace, {{"from_s", "1e6"}, {"to_s", "2e6"}})["in_window"], 0);
}

TEST_F(ApiRuns, TellTheirLaw) {
    const std::string path = first_of("halyard-cloth");
    const json fit = got(path + "/fit"), law = got(path)["run"]["figures"]["law"];
    EXPECT_EQ(fit["law"], law);
    // A line through the points looks like a curve: nowhere does a point lie further than a thousandth of the
    // start, a third of a pixel on the page, from the line between its neighbours.
    const auto time_s = fit["curve"]["time_s"].get<std::vector<double>>(),
               law_V = fit["curve"]["law_V"].get<std::vector<double>>();
    ASSERT_EQ(time_s.size(), law_V.size());
    EXPECT_NEAR(time_s.front(), law["from_s"].get<double>(), 1e-12);
    EXPECT_NEAR(time_s.back(), law["to_s"].get<double>(), 1e-12);
    for (std::size_t k = 1; k + 1 < time_s.size(); ++k) {
        ASSERT_LT(time_s[k - 1], time_s[k]);
        const double along = (time_s[k] - time_s[k - 1]) / (time_s[k + 1] - time_s[k - 1]);
        EXPECT_NEAR(law_V[k], std::lerp(law_V[k - 1], law_V[k + 1], along), 1e-3 * law_V.front()) << k;
    }
    EXPECT_EQ(std::ranges::count_if(fit["laws"], [](const json& one) { return one["chosen"] == true; }),
              law["chosen"].is_null() ? 0 : 1);
}

TEST_F(ApiRunsAlone, NameWhatTheirFiguresRestOn) {
    const std::string path = "/api/orders/bench-faults/runs/" + runs_of("bench-faults").at(0) + "/pedigree";
    const json from_folder = got(path);
    EXPECT_EQ(from_folder["from"], "folder");
    open(ledger_with({"bench-faults"}));
    const json from_ledger = got(path);
    EXPECT_EQ(from_ledger["from"], "ledger");
    // What the folder knows it says in the same words.
    const json &a = from_folder["pedigree"], &b = from_ledger["pedigree"];
    EXPECT_EQ(a["order"]["customer"], b["order"]["customer"]);
    for (const char* key : {"levels", "zero", "release", "charging", "specimen", "cut"})
        EXPECT_EQ(a["runs"][0][key], b["runs"][0][key]) << key;
    EXPECT_EQ(a["runs"][0]["recording"]["sha256"], b["runs"][0]["recording"]["sha256"]);
    EXPECT_EQ(a["bench"]["file"]["sha256"], b["bench"]["file"]["sha256"]);
    std::set<std::string> keys_a, keys_b;
    for (const auto& [key, value] : a.items()) keys_a.insert(key);
    for (const auto& [key, value] : b.items()) keys_b.insert(key);
    EXPECT_EQ(keys_a, keys_b);
    const std::string level = from_ledger["levels"][0];
    EXPECT_EQ(got(path, {{"level", level}})["pedigree"]["runs"][0]["levels"].size(), 1u);
    bad(get(path, {{"level", "77 %"}}), 400);
}

TEST_F(ApiRuns, TakeNotes) {
    std::filesystem::remove(path("halyard-cloth/notes.jsonl"));  // of tests before
    const std::string notes = first_of("halyard-cloth") + "/notes";
    EXPECT_TRUE(got(notes)["notes"].empty());
    const std::string text = "<script>alert(1)</script>\n\xE2\x80\xAE \"quoted\" \\ \x7F";
    const json note = good(post(notes, {{"who", "TO"}, {"text", text}}), 201);
    EXPECT_EQ(note["text"], text);
    EXPECT_EQ(note["at"], "2026-11-26T09:00:00Z");
    EXPECT_EQ(got(notes)["notes"], json::array({note}));
    EXPECT_EQ(
        got("/api/orders/halyard-cloth/runs/" + runs_of("halyard-cloth").at(1) + "/notes")["notes"].size(),
        0u);
    EXPECT_EQ(got("/api/orders/halyard-cloth")["notes"], 1);
    bad(post(notes, {{"who", ""}, {"text", "x"}}), 400);
    bad(post(notes, {{"who", "TO"}, {"text", std::string(1 << 20, 'x')}}), 400);
    bad(post(notes, {{"who", "TO"}, {"text", 3}}), 400);
    bad(post(notes, {{"who", "TO"}, {"text", "x"}, {"at", "2020-01-01T00:00:00Z"}}), 400);
    bad(api_->answer({"POST", notes, {}, "{\"who\":\"\xFF\",\"text\":\"x\"}", "application/json"}), 400);
    EXPECT_EQ(got(notes)["notes"].size(), 1u);
}

TEST_F(ApiRuns, GoOutAsFilesThatAreTheSameRun) {
    for (const char* key : {"halyard-cloth", "film-insulator"}) {
        const std::string run = first_of(key), id = runs_of(key).at(0);
        for (const char* format : {"csv", "hdf5"}) {
            const auto file = get(run + "/export", {{"format", format}});
            ASSERT_EQ(file.status, 200) << file.body.substr(0, 200);
            EXPECT_TRUE(file.headers.at(0).second.starts_with("attachment; filename=\"TP-2026-"));
            const auto bench = bench_of(key);
            recording::ReadOptions options;
            options.specimen = bench.channels.specimen;
            options.electrode = bench.channels.electrode;
            auto source = recording::open_bytes(file.body, "run", options);
            ASSERT_TRUE(source.ok()) << source.error().text();
            work::MeasureRequest request{work::usual_rules(), bench};
            const auto measured = work::measure(**source, request);
            ASSERT_TRUE(measured.ok()) << measured.error().text();
            ASSERT_EQ(measured->runs.size(), 1u) << key << format;
            EXPECT_EQ(measured->runs[0].run_id, id) << key << " " << format;
        }
        EXPECT_TRUE(get(run + "/export", {{"format", "svg"}}).body.starts_with("<svg "));
        EXPECT_TRUE(get(run + "/export", {{"format", "png"}}).body.starts_with("\x89PNG"));
        bad(get(run + "/export", {{"format", "exe"}}), 400);
    }
}

}  // namespace
