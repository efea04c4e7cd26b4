#pragma once
// What to do next in a laboratory's orders: which are due, which specimens are conditioned and when the
// others will be, which bench checks and calibrations run out. Pure.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "basis/instant.hpp"
#include "basis/result.hpp"
#include "plan/bench_check.hpp"
#include "record/order_record.hpp"
#include "work/order_at_hand.hpp"

namespace ebbtide::work {

/// An order as it stands.
struct OrderInWork {
    std::string key;
    std::optional<Error> error = {};  ///< its documents cannot be read; then nothing below holds
    record::OrderRecord documents = {};
    std::vector<OrderPlace> places = {};
    std::vector<plan::BenchCheck> checks = {};  ///< of its bench, oldest first

    [[nodiscard]] std::size_t recorded() const;  ///< places with a run that counts
    [[nodiscard]] std::size_t open() const;      ///< the others
};

enum class ConditioningState {
    not_asked,     ///< the method names no time
    not_begun,     ///< nobody stated a beginning, or it lies ahead
    conditioning,  ///< under way
    conditioned,   ///< long enough
    cut_short,     ///< ended before the shortest time was over
    too_long,      ///< beyond the longest
};
[[nodiscard]] std::string_view name_of(ConditioningState state);

struct OrderDue {
    const OrderInWork* order = nullptr;
    std::optional<int> days;  ///< to the day that was promised; below 0: late
};
struct Conditioned {
    const OrderInWork* order = nullptr;
    std::string conditions;              ///< id
    std::vector<std::string> specimens;  ///< with open places
    ConditioningState state = ConditioningState::not_asked;
    std::optional<Instant> from, ready_at, until;
    std::string words;
};
struct CheckStanding {
    std::string bench, revision;
    std::vector<std::string> orders;  ///< keys
    bool asked = false, good = false;
    std::optional<Instant> good_until;  ///< of the last good opening check up to now
    std::string reason, words;
};
struct CalibrationDue {
    std::string bench, revision, equipment, certificate;
    Date due;
    int days = 0;
};
struct NextStep {
    enum class Action { intake, mend, condition, check, test, issue, calibrate } action = Action::intake;
    std::string key;    ///< of the order; empty: of none
    std::string place;  ///< of test: label
    std::string words;
};
[[nodiscard]] std::string_view name_of(NextStep::Action action);

/// Points into the orders that it was worked out from.
struct Today {
    Date today;
    std::vector<OrderDue> due;  ///< not issued, the first due first, those without a day last
    std::vector<Conditioned> conditioning;
    std::vector<CheckStanding> checks;
    std::vector<CalibrationDue> calibrations;
    std::vector<NextStep> next;
};

[[nodiscard]] Today today_of(const std::vector<OrderInWork>& orders, Instant now);
Today today_of(std::vector<OrderInWork>&& orders, Instant now) = delete;

/// Whether work may start on the order's bench now, as the record of its checks has it.
[[nodiscard]] CheckStanding standing_of(const OrderInWork& order, Instant now);

}  // namespace ebbtide::work
