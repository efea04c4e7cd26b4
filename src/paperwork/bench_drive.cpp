#include "paperwork/bench_drive.hpp"

#include <fmt/format.h>

#include "paperwork/ranges.hpp"

namespace ebbtide::paperwork {
namespace {

constexpr Range check_tolerance{.least = 0, .most = 1, .least_excluded = true};
constexpr Range minute_s{.least = 0, .most = 60, .unit = "s", .least_excluded = true};
constexpr Range hour_s{.least = 0, .most = 3600, .unit = "s", .least_excluded = true};
constexpr Range up_to_an_hour_s{.least = 0, .most = 3600, .unit = "s"};
constexpr Range fall_s{.least = 0, .most = 864000, .unit = "s", .least_excluded = true};

plan::DriveLimits drive(TableReader table) {
    plan::DriveLimits out;
    out.near_zero_V =
        table.number("near_zero_V", {.least = 0, .most = 1000, .unit = "V", .least_excluded = true});
    out.settle_tolerance =
        table.number("settle_tolerance", {.least = 0, .most = 0.2, .least_excluded = true});
    out.settle_s = table.number("settle_s", minute_s);
    out.longest_rise_s = table.number("longest_rise_s", hour_s);
    out.longest_charge_s = table.number("longest_charge_s", hour_s);
    out.earth_within_s = table.number("earth_within_s", minute_s);
    out.longest_fall_s = table.number("longest_fall_s", fall_s);
    out.rest_s = table.number("rest_s", up_to_an_hour_s);
    out.unattended_replicates = table.whole("unattended_replicates", 1, 1000);
    out.hold_s = table.number_or("hold_s", hour_s, out.hold_s);
    out.wait_s = table.number_or("wait_s", up_to_an_hour_s, out.wait_s);
    out.residual_s = table.number_or("residual_s", minute_s, out.residual_s);
    out.zero_s = table.number_or("zero_s", minute_s, out.zero_s);
    out.prepare_within_s = table.number_or("prepare_within_s", hour_s, out.prepare_within_s);
    out.silent_after_s = table.number_or("silent_after_s", minute_s, out.silent_after_s);
    // An abort is seen at the next look: a second would be late.
    out.look_s = table.number_or("look_s", {.least = 0.001, .most = 0.1, .unit = "s"}, out.look_s);
    if (table.has("hold_s") && out.hold_s > out.longest_charge_s)
        table.problem("hold_s",
                      fmt::format("'drive.hold_s' is {} s, longer than longest_charge_s, {} s", out.hold_s,
                                  out.longest_charge_s),
                      "");
    return out;
}

plan::CheckLimits check(TableReader table) {
    plan::CheckLimits out;
    out.valid_h = table.number("valid_h", hours);
    out.voltage_V = table.number("voltage_V", positive_V);
    out.second_voltage_V = table.number("second_voltage_V", positive_V);
    out.hold_s = table.number("hold_s", hour_s);
    out.zero_limit_V = table.number("zero_limit_V", positive_V);
    out.span_tolerance = table.number("span_tolerance", check_tolerance);
    out.linearity_tolerance = table.number("linearity_tolerance", check_tolerance);
    out.induced_tolerance = table.number("induced_tolerance", check_tolerance);
    out.standard_level = table.level("standard_level");
    out.standard_decay_s = table.number("standard_decay_s", positive_s);
    out.standard_tolerance = table.number("standard_tolerance", check_tolerance);
    out.polarity_tolerance = table.number("polarity_tolerance", check_tolerance);
    out.blank_accepted_most = table.number("blank_accepted_most", check_tolerance);
    if (table.has("second_voltage_V") && out.second_voltage_V == out.voltage_V)
        table.problem("second_voltage_V", "'check.second_voltage_V' is the working voltage itself",
                      "Linearity needs another one, half of it for instance");
    return out;
}

}  // namespace

void read_driving(TableReader& top, plan::Bench& bench) {
    if (auto table = top.optional_table("drive")) bench.drive = drive(std::move(*table));
    if (auto table = top.optional_table("check")) {
        bench.check = check(std::move(*table));
        if (!bench.fixture.induced_fraction_positive || !bench.fixture.induced_fraction_negative)
            top.problem("check", "the bench check compares with the induced fractions of the fixture",
                        "State fixture.induced_fraction_positive and _negative, or take [check] out");
    }
    for (TableReader& line : top.tables_or_none("setup")) bench.setup.push_back(line.text("text"));
}

}  // namespace ebbtide::paperwork
