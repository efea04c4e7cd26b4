// The bench check on a scripted bench, and what follows from it for orders.

#include "work/bench_check.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>

#include "bench/scripted_bench.hpp"
#include "work/judge_order.hpp"
#include "work/scripted_order.hpp"

namespace ebbtide::work {
namespace {

using testing_support::NoisyBench;
using testing_support::scripted_check_toml;
using testing_support::ScriptedOrder;
using testing_support::WillingPerson;

/// What a person mounts, as time constants of a first-order specimen.
struct Shelf {
    double plate_s = 0, nothing_s = INFINITY, standard_s = 0.2, blank_s = INFINITY;
};

struct Checked {
    ScriptedOrder order{scripted_check_toml};
    NoisyBench bench;
    WillingPerson hands;
    Shelf shelf;

    Checked() {
        hands.otherwise = [this](const Question& question) -> std::optional<Answer> {
            if (question.mounted)
                bench.hang(*question.mounted == bench::Mounted::plate      ? shelf.plate_s
                           : *question.mounted == bench::Mounted::nothing  ? shelf.nothing_s
                           : *question.mounted == bench::Mounted::standard ? shelf.standard_s
                                                                           : shelf.blank_s);
            else if (question.kind == Question::Kind::mount)
                bench.hang(0.2);
            return {};
        };
    }
    BenchCheckAnswer check(bool closing = false, const char* at = "2026-11-25T08:00:00Z") {
        BenchCheckRequest request;
        request.bench_file = order.path("bench.toml");
        request.closing = closing;
        request.who = "TO";
        request.began = Instant{parse_instant(at).value().ns - Span::from_seconds(bench.now_s()).ns};
        auto answer = check_bench(bench, request, hands.person(), {});
        EXPECT_TRUE(answer.ok()) << answer.error().text();
        return answer.ok() ? std::move(answer).value() : BenchCheckAnswer{};
    }
    Result<DriveAnswer> drive_at(const char* at, const std::string& override_ = "") {
        DriveRequest request = order.request();
        request.override_ = override_;
        request.began = Instant{parse_instant(at).value().ns - Span::from_seconds(bench.now_s()).ns};
        return drive(bench, request, hands.person(), {});
    }
};

std::string failed_figures(const BenchCheckAnswer& answer) {
    std::string names;
    for (const bench::CheckFigure& figure : answer.figures)
        if (!figure.within() && names.find(figure.name) == std::string::npos)
            names += (names.empty() ? "" : " ") + figure.name;
    return names;
}

TEST(BenchCheck, FindsAGoodBenchGood) {
    Checked checked;
    const BenchCheckAnswer answer = checked.check();
    EXPECT_TRUE(answer.good) << answer.reason;
    EXPECT_EQ(answer.steps.size(), 10u);
    EXPECT_EQ(checked.hands.times(Question::Kind::mount), 4u);
    EXPECT_EQ(answer.figures.size(), 12u);
    EXPECT_FALSE(checked.bench.output_on());
    const auto record = nlohmann::json::parse(testing_support::bytes_of(checked.order.path(answer.file)));
    EXPECT_EQ(record, json_of(answer));
    for (const BenchCheckStep& step : answer.steps)
        EXPECT_TRUE(std::filesystem::exists(checked.order.path("checks/" + step.file))) << step.file;
}

TEST(BenchCheck, FindsWhatIsWrongWithABench) {
    const auto failed = [](const std::function<void(Checked&)>& spoil) {
        Checked checked;
        spoil(checked);
        const BenchCheckAnswer answer = checked.check();
        EXPECT_FALSE(answer.good);
        EXPECT_NE(answer.reason, "");
        return failed_figures(answer);
    };
    const auto reading = [](const std::function<double(double)>& change) {
        return [change](Checked& checked) {
            checked.bench.disturb = [change](double, bench::Observation& seen) {
                for (double& volts : seen.specimen) volts = change(volts);
                return true;
            };
        };
    };
    EXPECT_EQ(failed(reading([](double volts) { return volts + 25; })), "zero");
    EXPECT_EQ(failed(reading([](double volts) { return 1.04 * volts; })), "span");
    EXPECT_EQ(failed(reading([](double volts) { return volts > 0 ? volts : 1.04 * volts; })), "span");
    // A sensor that loses 5 % of its gain towards half the voltage.
    EXPECT_EQ(failed(reading([](double volts) {
                  return volts * (std::abs(volts) < 3000 && std::abs(volts) > 2000 ? 0.95 : 1);
              })),
              "linearity");
    EXPECT_EQ(failed([](Checked& checked) { checked.shelf.standard_s = 0.25; }), "standard_decay");
    EXPECT_EQ(failed([](Checked& checked) { checked.shelf.blank_s = 5; }), "blank_accepted");
    EXPECT_EQ(failed([](Checked& checked) { checked.shelf.nothing_s = 10; }), "induced_fraction");
}

TEST(BenchCheck, ThatWasBrokenOffIsOnRecordAndNotGood) {
    Checked checked;
    checked.hands.otherwise = [](const Question& question) -> std::optional<Answer> {
        if (question.mounted == bench::Mounted::standard) return Answer::stop;
        return {};
    };
    const BenchCheckAnswer answer = checked.check();
    EXPECT_FALSE(answer.good);
    EXPECT_NE(answer.reason.find("broke it off"), std::string::npos) << answer.reason;
    EXPECT_TRUE(std::filesystem::exists(checked.order.path(answer.file)));
}

TEST(BenchCheck, LetsNoOrderStartWithoutOne) {
    Checked checked;
    const auto refused = checked.drive_at("2026-11-25T09:00:00Z");
    ASSERT_FALSE(refused.ok());
    EXPECT_NE(refused.error().text().find("no opening check"), std::string::npos) << refused.error().text();
    EXPECT_TRUE(checked.bench.times_of(bench::Action::output_on).empty());
    checked.check();
    EXPECT_TRUE(checked.drive_at("2026-11-25T09:00:00Z").ok());
}

TEST(BenchCheck, LetsNoOrderStartOnAStaleOrFailedOne) {
    Checked stale;
    stale.check();
    const auto late = stale.drive_at("2026-11-25T17:00:00Z");
    ASSERT_FALSE(late.ok());
    EXPECT_NE(late.error().text().find("h old"), std::string::npos) << late.error().text();

    Checked failed;
    failed.shelf.standard_s = 0.3;
    EXPECT_FALSE(failed.check().good);
    const auto refused = failed.drive_at("2026-11-25T09:00:00Z");
    ASSERT_FALSE(refused.ok());
    EXPECT_NE(refused.error().text().find("failed"), std::string::npos) << refused.error().text();
}

bool flagged(const JudgedOrder& judged, plan::FlagCode code, plan::Consequence consequence,
             const std::string& part) {
    return !judged.record.judgement.runs.empty() &&
           std::ranges::all_of(judged.record.judgement.runs, [&](const judge::JudgedRun& run) {
               return std::ranges::any_of(run.flags, [&](const plan::Flag& flag) {
                   return flag.code == code && flag.consequence == consequence &&
                          flag.message.find(part) != std::string::npos;
               });
           });
}

TEST(BenchCheck, IsOverriddenOnlyByANamedPersonWithAReasonThatTheRecordShows) {
    Checked checked;
    checked.shelf.standard_s = 0.3;
    checked.check();
    const auto driven =
        checked.drive_at("2026-11-25T09:00:00Z", "standard's resistor is being replaced, span is good");
    ASSERT_TRUE(driven.ok()) << driven.error().text();
    EXPECT_EQ(driven->ended, "");
    const auto judged = judge_order(*folder_files(checked.order.folder()), Instant{});
    ASSERT_TRUE(judged.ok()) << judged.error().text();
    EXPECT_TRUE(flagged(*judged, plan::FlagCode::bench_check_failed, plan::Consequence::warn,
                        "TO let work start: standard's resistor"));
    EXPECT_EQ(judged->record.judgement.statement, plan::Conformity::pass);

    Checked nameless;
    DriveRequest request = nameless.order.request();
    request.override_ = "a reason";
    request.who.clear();
    EXPECT_FALSE(drive(nameless.bench, request, nameless.hands.person(), {}).ok());
}

TEST(BenchCheck, IsNotTakenForNoneWhereItsFolderCannotBeListed) {
    // A file in the folder's place: as good as a folder without leave to read, also for the superuser.
    Checked checked;
    checked.check();
    ASSERT_TRUE(checked.drive_at("2026-11-25T09:00:00Z").ok());
    std::filesystem::remove_all(checked.order.path("checks"));
    testing_support::write_bytes(checked.order.path("checks"), "no folder");
    const auto judged = judge_order(*folder_files(checked.order.folder()), Instant{});
    ASSERT_FALSE(judged.ok());
    EXPECT_NE(judged.error().text().find("checks"), std::string::npos) << judged.error().text();
    Checked other;
    testing_support::write_bytes(other.order.path("checks"), "no folder");
    const auto driven = other.drive_at("2026-11-25T09:00:00Z");
    ASSERT_FALSE(driven.ok());
    EXPECT_NE(driven.error().text().find("checks"), std::string::npos) << driven.error().text();
}

TEST(BenchCheck, HoldsWhatLiesBetweenAGoodOpeningAndABadClosing) {
    Checked checked;
    ASSERT_TRUE(checked.check().good);
    ASSERT_TRUE(checked.drive_at("2026-11-25T09:00:00Z").ok());
    auto judged = judge_order(*folder_files(checked.order.folder()), Instant{});
    ASSERT_TRUE(judged.ok()) << judged.error().text();
    EXPECT_EQ(judged->record.judgement.statement, plan::Conformity::pass);

    checked.shelf.standard_s = 0.3;
    ASSERT_FALSE(checked.check(true, "2026-11-25T12:00:00Z").good);
    judged = judge_order(*folder_files(checked.order.folder()), Instant{});
    ASSERT_TRUE(judged.ok()) << judged.error().text();
    EXPECT_EQ(judged->record.judgement.statement, plan::Conformity::void_);
    EXPECT_TRUE(flagged(*judged, plan::FlagCode::bench_check_held, plan::Consequence::void_run,
                        "closing check of 2026-11-25T12"));
    const auto& inputs = judged->record.inputs;
    EXPECT_GE(std::ranges::count(inputs, "bench_check", &record::InputFile::role), 2);
}

}  // namespace
}  // namespace ebbtide::work
