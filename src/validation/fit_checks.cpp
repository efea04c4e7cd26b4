#include <fmt/format.h>

#include <cmath>
#include <span>
#include <stdexcept>

#include "decay/law.hpp"
#include "fit/fit.hpp"
#include "validation/checks.hpp"
#include "validation/nist.hpp"

namespace ebbtide::validation {
namespace {

using decay::LawKind;
using decay::Offset;
using fit::Fit;

const char* const subject = "Laws and their errors";

/// A value and its standard error out of a fit.
struct Found {
    double value = 0, error = 0;
};
using Read = std::function<Found(const Fit&)>;

Found found(const Fit& fit, const std::string& name) {
    const fit::Parameter* parameter = fit.find(name);
    if (!parameter || !parameter->standard_error) throw std::runtime_error("no " + name + " with an error");
    return {parameter->value, *parameter->standard_error};
}

Read parameter(std::string name) {
    return [name](const Fit& fit) { return found(fit, name); };
}
/// The files state rates b = 1/T.
Read inverse(std::string name) {
    return [name](const Fit& fit) {
        const Found x = found(fit, name);
        return Found{1 / x.value, x.error / (x.value * x.value)};
    };
}
Read negative(std::string name) {
    return [name](const Fit& fit) {
        const Found x = found(fit, name);
        return Found{-x.value, x.error};
    };
}

/// Bennett5 is y = b1 (b2 + x)^(-1/b3): b1 = V0 T^q.
Found power_scale(const Fit& fit) {
    const double V0 = found(fit, "amplitude_V").value, T = found(fit, "time_constant_s").value,
                 q = found(fit, "power").value;
    const double b1 = V0 * std::pow(T, q);
    const Eigen::Vector3d by{b1 / V0, b1 * q / T, b1 * std::log(T)};  // d b1 / d (V0, T, q)
    return {b1, std::sqrt(by.dot(fit.covariance * by))};
}

/// A certified fit: b1, b2 ... as our law states them.
struct Certified {
    const char* set;
    const char* model;
    LawKind law;
    Offset::Kind offset;
    std::vector<Read> b;
    double digits = 9;
    bool has_noise = true;  ///< without it standard deviations and residuals are the rounding of doubles
};

void add(std::vector<Check>& checks, const Certified& certified) {
    const CertifiedFit data = nist(certified.set);
    const auto fitted = once([=] {
        Fit fit = fit::fit(decay::law_of(certified.law, {certified.offset}), data.points.view(),
                           {fit::Scatter::from_residuals});
        if (!fit.ok()) throw std::runtime_error(fit.reason);
        return fit;
    });
    const std::string name = std::string(certified.set) + ": ",
                      source = fmt::format("NIST StRD, {}.dat: {}", certified.set, certified.model);
    for (std::size_t i = 0; i < certified.b.size(); ++i) {
        const std::string b = "b" + std::to_string(i + 1);
        const Read read = certified.b[i];
        checks.push_back(
            {subject, name + b, source, data.b.at(i).value, "", [=] { return read(fitted()).value; },
             significant(certified.digits, "doubles lose the other digits in forming residuals")});
        if (!certified.has_noise) continue;
        checks.push_back({subject, name + "standard deviation of " + b, source,
                          data.b.at(i).standard_deviation, "", [=] { return read(fitted()).error; },
                          significant(5, "differences of nearly equal numbers")});
    }
    if (!certified.has_noise) return;
    checks.push_back({subject, name + "sum of squares", source, data.rss, "", [=] { return fitted().rss; },
                      significant(9, "doubles lose the other digits in forming residuals")});
}

/// y1 + rise (t - 20) / 10, the ten degrees held: a law knows x only beside a shape parameter.
fit::Law straight_line() {
    fit::Law line;
    line.amplitudes = {"y1", "rise"};
    line.shape = {{.name = "stretch"}};
    line.evaluate = [](std::span<const double> x, std::span<const double> theta, fit::Block columns,
                       fit::Block) {
        columns.col(0).setOnes();
        for (std::size_t i = 0; i < x.size(); ++i) columns(static_cast<Eigen::Index>(i), 1) = x[i] / theta[0];
    };
    return line;
}

Fit thermometer() {
    fit::CurveStore data;
    for (const double t :
         {21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511})
        data.x.push_back(t - 20);
    data.y = {-.171, -.169, -.166, -.159, -.164, -.165, -.156, -.157, -.159, -.161, -.160};
    return fit::fit(straight_line(), data.view(), {fit::Scatter::from_residuals}, {10.0});
}

void add_thermometer(std::vector<Check>& checks) {
    const auto line = once(thermometer);
    const auto entry = [&](const char* name, const char* printed, const char* unit,
                           std::function<double(const Fit&)> of) {
        checks.push_back({subject, std::string("calibration of a thermometer: ") + name, "JCGM 100:2008, H.3",
                          printed, unit, [=] { return of(line()); }});
    };
    entry("y1", "-0.1712", "°C", [](const Fit& l) { return found(l, "y1").value; });
    entry("standard deviation of y1", "0.0029", "°C", [](const Fit& l) { return found(l, "y1").error; });
    entry("y2", "0.00218", "", [](const Fit& l) { return found(l, "rise").value / 10; });
    entry("standard deviation of y2", "0.00067", "",
          [](const Fit& l) { return found(l, "rise").error / 10; });
    entry("correlation of y1 and y2", "-0.930", "",
          [](const Fit& l) { return l.covariance(0, 1) / (found(l, "y1").error * found(l, "rise").error); });
    entry("correction at 30 °C", "-0.1494", "°C",
          [](const Fit& l) { return found(l, "y1").value + found(l, "rise").value; });
    entry("standard deviation of that correction", "0.0041", "°C", [](const Fit& l) {
        const Eigen::Vector3d at_30{1, 1, 0};
        return std::sqrt(at_30.dot(l.covariance * at_30));
    });
}

}  // namespace

std::vector<Check> fit_checks() {
    std::vector<Check> checks;
    const auto a = [](const char* n) { return parameter(std::string("amplitude_") + n + "_V"); };
    const auto rate = [](const char* n) { return inverse(std::string("time_constant_") + n + "_s"); };
    const std::vector<Read> three{a("3"), rate("3"), a("2"), rate("2"), a("1"), rate("1")};
    add(checks, {"MGH17",
                 "two exponentials and an offset",
                 LawKind::two_exponentials,
                 Offset::Kind::free,
                 {parameter("offset_V"), a("2"), a("1"), rate("2"), rate("1")}});
    add(checks, {"Lanczos1", "three exponentials without noise", LawKind::three_exponentials,
                 Offset::Kind::stated, three, 9, false});
    add(checks, {"Lanczos2", "three exponentials", LawKind::three_exponentials, Offset::Kind::stated, three});
    add(checks, {"Lanczos3", "three exponentials", LawKind::three_exponentials, Offset::Kind::stated, three});
    add(checks, {"Bennett5",
                 "power law",
                 LawKind::power,
                 Offset::Kind::stated,
                 {power_scale, parameter("time_constant_s"), inverse("power")},
                 8});
    add(checks, {"Misra1a",
                 "rise to a plateau",
                 LawKind::exponential,
                 Offset::Kind::minus_amplitude,
                 {negative("amplitude_V"), inverse("time_constant_s")}});
    add(checks, {"BoxBOD",
                 "rise to a plateau",
                 LawKind::exponential,
                 Offset::Kind::minus_amplitude,
                 {negative("amplitude_V"), inverse("time_constant_s")}});
    add_thermometer(checks);
    return checks;
}

}  // namespace ebbtide::validation
