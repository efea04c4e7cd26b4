// What to do next, from orders, plans, conditioning and bench checks.

#include "work/today.hpp"

#include <gtest/gtest.h>

#include "support/program.hpp"
#include "work/order_documents.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using Action = work::NextStep::Action;
using State = work::ConditioningState;

Instant at(const char* text) {
    return parse_instant(text).value();
}

/// The awning order: two specimens, conditioned from 2026-11-23 16:00, nothing recorded.
work::OrderInWork waiting_awnings() {
    work::OrderInWork order;
    order.key = "awnings";
    const auto files = work::files_at_hand(EBBTIDE_SOURCE_DIR "/examples/awning-live").value();
    EXPECT_TRUE(work::read_documents(*files, {}, order.documents).ok());
    order.places = work::order_places(order.documents.order, order.documents.method, {});
    return order;
}

/// What it points into stays with it.
struct WorkedOut : work::Today {
    std::vector<work::OrderInWork> orders;
};
WorkedOut worked_out(std::vector<work::OrderInWork> orders, Instant now) {
    WorkedOut out;
    out.orders = std::move(orders);
    static_cast<work::Today&>(out) = work::today_of(out.orders, now);
    return out;
}

plan::BenchCheck opening(const char* when, bool good) {
    return {plan::BenchCheck::Kind::opening, "opening.json", at(when), good, "TO", good ? "" : "span"};
}

TEST(Today, AsksForTheBenchCheckBeforeTheFirstRun) {
    const std::vector<work::OrderInWork> orders{waiting_awnings()};
    const auto today = worked_out(orders, at("2026-11-25T09:00:00Z"));
    ASSERT_EQ(today.checks.size(), 1u);
    EXPECT_TRUE(today.checks[0].asked);
    EXPECT_FALSE(today.checks[0].good);
    ASSERT_FALSE(today.next.empty());
    EXPECT_EQ(today.next[0].action, Action::check);
    EXPECT_EQ(today.next[0].key, "awnings");
    EXPECT_EQ(today.next[0].words.find("--listen"), std::string::npos) << today.next[0].words;
}

TEST(Today, NamesTheCommandsThatHearABenchOfItsOwnControls) {
    work::OrderInWork order = waiting_awnings();
    order.documents.bench->drive.reset();
    const auto unproven = worked_out({order}, at("2026-11-25T09:00:00Z"));
    ASSERT_FALSE(unproven.next.empty());
    EXPECT_NE(unproven.next[0].words.find("'ebbtide check --listen'"), std::string::npos)
        << unproven.next[0].words;
    order.checks.push_back(opening("2026-11-25T08:00:00Z", true));
    const auto proven = worked_out({order}, at("2026-11-25T09:00:00Z"));
    ASSERT_FALSE(proven.next.empty());
    EXPECT_NE(proven.next[0].words.find("'ebbtide listen'"), std::string::npos) << proven.next[0].words;
}

TEST(Today, NamesTheNextOpenPlaceWhileACheckHolds) {
    work::OrderInWork order = waiting_awnings();
    order.checks.push_back(opening("2026-11-25T08:00:00Z", true));
    const double valid_h = order.documents.bench->check->valid_h;
    const auto today = worked_out({order}, at("2026-11-25T09:00:00Z"));
    EXPECT_TRUE(today.checks[0].good);
    EXPECT_EQ(today.checks[0].good_until, at("2026-11-25T08:00:00Z") + Span::from_seconds(3600 * valid_h));
    EXPECT_EQ(today.next[0].action, Action::test);
    EXPECT_EQ(today.next[0].place, order.places.front().key.label());
    // It runs out.
    const auto later = worked_out({order}, *today.checks[0].good_until + Span::from_seconds(60));
    EXPECT_EQ(later.next[0].action, Action::check);
}

TEST(Today, SaysWhenSpecimensWillBeConditioned) {
    work::OrderInWork order = waiting_awnings();
    plan::Conditioning& asked = order.documents.method.conditioning;
    plan::TestConditions& dry = order.documents.order.conditions.front();
    asked.at_least_h = 24;
    asked.at_most_h = {};
    const auto state = [&](const char* now) { return worked_out({order}, at(now)).conditioning.at(0).state; };
    dry.conditioned_to = {};
    EXPECT_EQ(state("2026-11-23T15:59:59Z"), State::not_begun);
    EXPECT_EQ(state("2026-11-24T15:59:59Z"), State::conditioning);
    EXPECT_EQ(state("2026-11-24T16:00:00Z"), State::conditioned);
    const auto waiting = worked_out({order}, at("2026-11-24T15:00:00Z"));
    EXPECT_EQ(waiting.conditioning[0].ready_at, at("2026-11-24T16:00:00Z"));
    EXPECT_EQ(waiting.conditioning[0].specimens, (std::vector<std::string>{"A1", "A2"}));
    EXPECT_NE(waiting.conditioning[0].words.find("in 1 h 00 min"), std::string::npos)
        << waiting.conditioning[0].words;
    EXPECT_EQ(waiting.next[0].action, Action::condition);
    asked.at_most_h = 48;
    EXPECT_EQ(state("2026-11-25T17:00:00Z"), State::too_long);
    dry.conditioned_to = at("2026-11-24T10:00:00Z");
    EXPECT_EQ(state("2026-11-24T17:00:00Z"), State::cut_short);
    asked.at_least_h = asked.at_most_h = {};
    EXPECT_EQ(state("2026-11-24T17:00:00Z"), State::not_asked);
    asked.at_least_h = 24;
    dry.conditioned_from = dry.conditioned_to = {};
    EXPECT_EQ(state("2026-11-24T17:00:00Z"), State::not_begun);
}

TEST(Today, PutsTheFirstDueFirst) {
    work::OrderInWork late = waiting_awnings(), soon = waiting_awnings(), never = waiting_awnings(),
                      issued = waiting_awnings();
    late.key = "late";
    late.documents.order.due = Date{2026, 11, 20};
    soon.key = "soon";
    soon.documents.order.due = Date{2026, 11, 27};
    never.key = "never";
    never.documents.order.due.reset();
    issued.documents.order.issued = Date{2026, 11, 1};
    int number = 0;
    for (work::OrderInWork* one : {&late, &soon, &never, &issued})
        one->documents.order.id += "-" + std::to_string(++number);
    const auto today = worked_out({never, soon, issued, late}, at("2026-11-25T09:00:00Z"));
    ASSERT_EQ(today.due.size(), 3u);
    EXPECT_EQ(today.due[0].order->key, "late");
    EXPECT_EQ(today.due[0].days, -5);
    EXPECT_EQ(today.due[1].days, 2);
    EXPECT_FALSE(today.due[2].days);
    EXPECT_EQ(today.next[0].key, "late");
    EXPECT_NE(today.next[0].words.find("Due 5 days ago"), std::string::npos) << today.next[0].words;
}

TEST(Today, AsksForTheReportWhenThePlanIsFull) {
    work::OrderInWork order = waiting_awnings();
    for (work::OrderPlace& place : order.places) place.state = work::OrderPlace::State::filled;
    const auto today = worked_out({order}, at("2026-11-25T09:00:00Z"));
    EXPECT_EQ(today.next[0].action, Action::issue);
    EXPECT_TRUE(today.conditioning.empty());
}

TEST(Today, NamesCalibrationsThatRunOut) {
    work::OrderInWork order = waiting_awnings();
    auto& calibrations = order.documents.bench->calibrations;
    calibrations = {{"field sensor", "C-1", {2026, 1, 1}, {2026, 11, 20}},
                    {"source", "C-2", {2026, 1, 1}, {2026, 12, 20}},
                    {"hygrometer", "C-3", {2026, 1, 1}, {2027, 12, 20}}};
    const auto today = worked_out({order, order}, at("2026-11-25T09:00:00Z"));
    ASSERT_EQ(today.calibrations.size(), 2u) << "each once, those far off not at all";
    EXPECT_EQ(today.calibrations[0].days, -5);
    EXPECT_EQ(today.calibrations[1].days, 25);
    EXPECT_EQ(today.next.back().action, Action::calibrate);
}

TEST(Today, SaysWhatToMendAndWhenNothingWaits) {
    work::OrderInWork spoilt;
    spoilt.key = "spoilt";
    spoilt.error = Error{Fault::bad_input, "unknown key", "order.toml:3", "Correct it"};
    EXPECT_EQ(worked_out({spoilt}, Instant{}).next[0].action, Action::mend);
    EXPECT_EQ(worked_out({}, Instant{}).next[0].action, Action::intake);
}

TEST(Today, AsksToMendAnIdThatTwoFoldersCarry) {
    work::OrderInWork copy = waiting_awnings();
    copy.key = "awnings-copy";
    const auto today = worked_out({waiting_awnings(), copy}, at("2026-11-25T09:00:00Z"));
    ASSERT_EQ(today.next[0].action, Action::mend);
    EXPECT_EQ(today.next[0].key, "awnings-copy");
    EXPECT_NE(today.next[0].words.find(copy.documents.order.id + ": the folders awnings and awnings-copy"),
              std::string::npos)
        << today.next[0].words;
    copy.documents.order.id += "-2";
    EXPECT_NE(worked_out({waiting_awnings(), copy}, at("2026-11-25T09:00:00Z")).next[0].action, Action::mend);
}

TEST(Today, CountsNoCheckThatLiesAhead) {
    work::OrderInWork order = waiting_awnings();
    order.checks.push_back(opening("2026-11-25T10:00:00Z", true));
    const work::CheckStanding stands = work::standing_of(order, at("2026-11-25T09:00:00Z"));
    EXPECT_FALSE(stands.good);
    EXPECT_FALSE(stands.good_until);
    EXPECT_NE(stands.words.find("2026-11-25T10:00:00Z lies ahead"), std::string::npos) << stands.words;
}

TEST(OrderPlaces, AreVoidWhereNoRunCounts) {
    const work::OrderInWork order = waiting_awnings();
    plan::RunKey key = order.places[0].key;
    const auto& [about, method] = std::tie(order.documents.order, order.documents.method);
    auto places = work::order_places(about, method, {{key, "a", false}});
    EXPECT_EQ(places.size(), order.places.size());
    EXPECT_EQ(places[0].state, work::OrderPlace::State::void_);
    places = work::order_places(about, method, {{key, "a", false}, {key, "b", true}});
    EXPECT_EQ(places[0].state, work::OrderPlace::State::filled);
    EXPECT_EQ(places[0].runs, (std::vector<std::string>{"a", "b"}));
    key.replicate = 900;
    places = work::order_places(about, method, {{key, "c", true}});
    EXPECT_EQ(places.size(), order.places.size() + 1) << "a run beside the plan has a place of its own";
    EXPECT_FALSE(places.back().index);
}

}  // namespace
