#include "work/today.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <map>

#include "judge/bench_standing.hpp"

namespace ebbtide::work {
namespace {

constexpr int days_ahead = 30;  // in which a calibration that runs out is named

int days_between(Date from, Date to) {
    constexpr std::int64_t day_ns = 86'400'000'000'000;
    return static_cast<int>((start_of(to).ns - start_of(from).ns) / day_ns);
}

Span hours(double h) {
    return Span::from_seconds(3600 * h);
}

/// "2 h 05 min", "3 d 4 h".
std::string length_words(Span span) {
    const auto minutes = static_cast<std::int64_t>(span.seconds() / 60);
    if (minutes < 60) return fmt::format("{} min", minutes);
    if (minutes < 48 * 60) return fmt::format("{} h {:02} min", minutes / 60, minutes % 60);
    return fmt::format("{} d {} h", minutes / 1440, minutes % 1440 / 60);
}

/// Minutes are enough for people: "2026-11-26 08:00 UTC".
std::string minute_words(Instant at) {
    std::string text = iso_text(at).substr(0, 16);
    text[10] = ' ';
    return text + " UTC";
}

std::string day_words(int days) {
    if (days == 0) return "today";
    if (days == 1) return "tomorrow";
    if (days < 0) return fmt::format("{} {} ago", -days, days == -1 ? "day" : "days");
    return fmt::format("in {} days", days);
}

std::vector<std::string> open_specimens(const OrderInWork& order, const std::string& conditions) {
    std::vector<std::string> ids;
    for (const OrderPlace& place : order.places)
        if (place.state != OrderPlace::State::filled &&
            (place.key.conditions.empty() || place.key.conditions == conditions) &&
            std::ranges::find(ids, place.key.specimen) == ids.end())
            ids.push_back(place.key.specimen);
    return ids;
}

void say(Conditioned& out, Instant now) {
    const std::string of = fmt::format("{} ({})", fmt::join(out.specimens, ", "), out.conditions);
    switch (out.state) {
        case ConditioningState::not_asked:
            out.words = fmt::format("{}: the method asks for no time of conditioning.", of);
            break;
        case ConditioningState::not_begun:
            out.words = out.from ? fmt::format("{}: conditioning begins at {}.", of, minute_words(*out.from))
                                 : fmt::format("{}: no beginning of conditioning is stated.", of);
            break;
        case ConditioningState::conditioning:
            out.words = fmt::format("{}: conditioned at {}, in {}.", of, minute_words(*out.ready_at),
                                    length_words(*out.ready_at - now));
            break;
        case ConditioningState::conditioned:
            out.words = fmt::format("{}: conditioned since {}.", of, minute_words(*out.ready_at));
            if (out.until) out.words += fmt::format(" Test before {}.", minute_words(*out.until));
            break;
        case ConditioningState::cut_short:
            out.words = fmt::format("{}: conditioning ended before its shortest time was over.", of);
            break;
        case ConditioningState::too_long:
            out.words = fmt::format("{}: conditioned beyond the longest time, until {}.", of,
                                    minute_words(*out.until));
            break;
    }
}

Conditioned conditioned(const OrderInWork& order, const plan::TestConditions& conditions, Instant now) {
    Conditioned out;
    out.order = &order;
    out.conditions = conditions.id;
    out.specimens = open_specimens(order, conditions.id);
    out.from = conditions.conditioned_from;
    const plan::Conditioning& asked = order.documents.method.conditioning;
    if (out.from) {
        out.ready_at = *out.from + hours(asked.at_least_h.value_or(0));
        if (asked.at_most_h) out.until = *out.from + hours(*asked.at_most_h);
    }
    const auto& ended = conditions.conditioned_to;
    if (!asked.at_least_h && !asked.at_most_h)
        out.state = ConditioningState::not_asked;
    else if (!out.from || now < *out.from)
        out.state = ConditioningState::not_begun;
    else if (ended && *ended < *out.ready_at)
        out.state = ConditioningState::cut_short;
    else if (out.until && now > *out.until && (!ended || *ended > *out.until))
        out.state = ConditioningState::too_long;
    else
        out.state = now < *out.ready_at ? ConditioningState::conditioning : ConditioningState::conditioned;
    say(out, now);
    return out;
}

/// What is to be done for one order; nothing where it waits for nobody.
std::optional<NextStep> step_of(const OrderInWork& order, const Today& today) {
    using Action = NextStep::Action;
    const plan::Order& about = order.documents.order;
    const auto step = [&](Action action, std::string words, std::string place = "") {
        return NextStep{action, order.key, std::move(place), std::move(words)};
    };
    if (about.issued) return {};
    if (order.open() == 0)
        return step(Action::issue, fmt::format("{}: every place of the plan is filled. Read the statement, "
                                               "then issue the report.",
                                               about.id));
    // One of several conditions is enough to go on with.
    const Conditioned* waits = nullptr;
    for (const Conditioned& one : today.conditioning) {
        if (one.order != &order) continue;
        const bool may_go_on = one.state == ConditioningState::conditioned ||
                               one.state == ConditioningState::not_asked ||
                               one.state == ConditioningState::too_long;
        if (may_go_on) {
            waits = nullptr;
            break;
        }
        if (waits == nullptr || one.state == ConditioningState::conditioning) waits = &one;
    }
    if (waits != nullptr)
        return step(Action::condition,
                    fmt::format("{}: condition the specimens. {}", about.id, waits->words));
    if (about.live_file.empty())
        return step(Action::test,
                    fmt::format("{}: record what is missing and list it in the order.", about.id));
    // A bench that keeps its own controls is worked at with the commands that hear it.
    const bool heard = order.documents.bench && !order.documents.bench->drive;
    for (const CheckStanding& check : today.checks)
        if (check.asked && !check.good && std::ranges::find(check.orders, order.key) != check.orders.end())
            return step(Action::check, fmt::format("{}: make a bench check{}. {}", about.id,
                                                   heard ? " ('ebbtide check --listen')" : "", check.words));
    for (const OrderPlace& place : order.places)
        if (place.state != OrderPlace::State::filled)
            return step(Action::test,
                        fmt::format("{}: test {}{}; {} of {} places are open.", about.id, place.key.label(),
                                    heard ? " ('ebbtide listen')" : "", order.open(), order.places.size()),
                        place.key.label());
    return {};
}

/// A report is found by the order's id, and so is what the ledger holds of it: an id is one order's.
void add_same_ids(Today& out, const std::vector<OrderInWork>& orders) {
    std::map<std::string, std::string> first;
    for (const OrderInWork& order : orders) {
        if (order.error) continue;
        const std::string& id = order.documents.order.id;
        const auto [before, fresh] = first.emplace(id, order.key);
        if (!fresh)
            out.next.push_back(
                {NextStep::Action::mend, order.key, "",
                 fmt::format("{}: the folders {} and {} carry this id. Give one of them an id of its "
                             "own, or take it away: reports and the ledger go by the id.",
                             id, before->second, order.key)});
    }
}

void add_calibrations(Today& out, const OrderInWork& order) {
    if (!order.documents.bench) return;
    const plan::Bench& bench = *order.documents.bench;
    for (const plan::Calibration& one : bench.calibrations) {
        const CalibrationDue due{bench.id,        bench.revision, one.equipment,
                                 one.certificate, one.due,        days_between(out.today, one.due)};
        const auto same = [&](const CalibrationDue& other) {
            return other.bench == due.bench && other.revision == due.revision &&
                   other.equipment == due.equipment && other.certificate == due.certificate;
        };
        if (due.days <= days_ahead && std::ranges::none_of(out.calibrations, same))
            out.calibrations.push_back(due);
    }
}

void add_standing(Today& out, CheckStanding standing) {
    for (CheckStanding& there : out.checks)
        if (there.bench == standing.bench && there.revision == standing.revision &&
            there.reason == standing.reason && there.good_until == standing.good_until) {
            there.orders.push_back(standing.orders.front());
            return;
        }
    out.checks.push_back(std::move(standing));
}

}  // namespace

std::size_t OrderInWork::recorded() const {
    return static_cast<std::size_t>(
        std::ranges::count(places, OrderPlace::State::filled, &OrderPlace::state));
}

std::size_t OrderInWork::open() const {
    return places.size() - recorded();
}

std::string_view name_of(ConditioningState state) {
    constexpr std::string_view names[] = {"not_asked",   "not_begun", "conditioning",
                                          "conditioned", "cut_short", "too_long"};
    return names[static_cast<std::size_t>(state)];
}

std::string_view name_of(NextStep::Action action) {
    constexpr std::string_view names[] = {"intake", "mend",  "condition", "check",
                                          "test",   "issue", "calibrate"};
    return names[static_cast<std::size_t>(action)];
}

CheckStanding standing_of(const OrderInWork& order, Instant now) {
    CheckStanding out;
    out.orders.push_back(order.key);
    if (!order.documents.bench) return out;
    const plan::Bench& bench = *order.documents.bench;
    out.bench = bench.id;
    out.revision = bench.revision;
    if (!bench.check) {
        out.good = true;
        out.words = fmt::format("{}: its file asks for no bench check.", bench.id);
        return out;
    }
    out.asked = true;
    for (const plan::BenchCheck& check : order.checks)
        if (check.kind == plan::BenchCheck::Kind::opening && check.good && check.at <= now)
            out.good_until = check.at + hours(bench.check->valid_h);
    out.reason = judge::reason_not_to_start(order.checks, *bench.check, now);
    out.good = out.reason.empty();
    out.words = out.good ? fmt::format("{}: the bench check holds until {}, for {}.", bench.id,
                                       minute_words(*out.good_until), length_words(*out.good_until - now))
                         : fmt::format("{}: {}.", bench.id, out.reason);
    return out;
}

Today today_of(const std::vector<OrderInWork>& orders, Instant now) {
    Today out;
    out.today = date_of(now);
    for (const OrderInWork& order : orders) {
        if (order.error) {
            out.next.push_back(
                {NextStep::Action::mend, order.key, "",
                 fmt::format("{}: its documents cannot be read. {}", order.key, order.error->text())});
            continue;
        }
        const plan::Order& about = order.documents.order;
        if (about.issued) continue;
        out.due.push_back({&order, {}});
        if (about.due) out.due.back().days = days_between(out.today, *about.due);
        if (order.open() == 0) continue;
        for (const plan::TestConditions& one : about.conditions)
            if (auto state = conditioned(order, one, now); !state.specimens.empty())
                out.conditioning.push_back(std::move(state));
        if (order.documents.bench) add_standing(out, standing_of(order, now));
        add_calibrations(out, order);
    }
    add_same_ids(out, orders);
    std::ranges::stable_sort(out.due, [](const OrderDue& a, const OrderDue& b) {
        return a.days && (!b.days || *a.days < *b.days);
    });
    std::ranges::stable_sort(out.calibrations, {}, &CalibrationDue::days);
    for (const OrderDue& due : out.due)
        if (auto step = step_of(*due.order, out)) {
            if (due.days && *due.days <= 7) step->words += fmt::format(" Due {}.", day_words(*due.days));
            out.next.push_back(std::move(*step));
        }
    for (const CalibrationDue& one : out.calibrations)
        out.next.push_back(
            {NextStep::Action::calibrate, "", "",
             fmt::format("{}: the calibration of {} ({}) {} {}.", one.bench, one.equipment, one.certificate,
                         one.days < 0 ? "ran out" : "runs out", day_words(one.days))});
    if (out.next.empty())
        out.next.push_back({NextStep::Action::intake, "", "", "No order waits. Take one in."});
    return out;
}

}  // namespace ebbtide::work
