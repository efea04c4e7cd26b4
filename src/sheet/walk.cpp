#include "sheet/walk.hpp"

#include <algorithm>
#include <cmath>

namespace ebbtide::sheet {
namespace {

using Eigen::Index;

/// RODAS, a stiffly accurate Rosenbrock method of order 4 with an error estimate of order 3: Hairer and
/// Wanner, Solving Ordinary Differential Equations II, section IV.7 (coefficients from memory; the order of
/// convergence that tests find proves them). In the form that needs no product with the Jacobian.
namespace rodas {
constexpr int stages = 6;
constexpr double gamma = 0.25;
constexpr double node[stages] = {0, 0.386, 0.21, 0.63, 1, 1};
constexpr double slope_part[stages] = {0.25, -0.1043, 0.1035, -0.3620000000000023e-01, 0, 0};
constexpr double a[stages][stages] = {
    {},
    {0.1544e+01},
    {0.9466785280815826, 0.2557011698983284},
    {0.3314825187068521e+01, 0.2896124015972201e+01, 0.9986419139977817},
    {0.1221224509226641e+01, 0.6019134481288629e+01, 0.1253708332932087e+02, -0.6878860361058950},
    {0.1221224509226641e+01, 0.6019134481288629e+01, 0.1253708332932087e+02, -0.6878860361058950, 1}};
constexpr double c[stages][stages] = {
    {},
    {-0.56688e+01},
    {-0.2430093356833875e+01, -0.2063599157091915},
    {-0.1073529058151375, -0.9594562251023355e+01, -0.2047028614809616e+02},
    {0.7496443313967647e+01, -0.1024680431464352e+02, -0.3399990352819905e+02, 0.1170890893206160e+02},
    {0.8083246795921522e+01, -0.7981132988064893e+01, -0.3152159432874371e+02, 0.1631930543123136e+02,
     -0.6058818238834054e+01}};
/// Between the ends of a step, at the part s of it:
/// (1 - s) y0 + s (y1 + (1 - s) (sum inner_i k_i + s sum bend_i k_i)), of order 3.
constexpr double inner[stages] = {0.1012623508344586e+02, -0.7487995877610167e+01, -0.3480091861555747e+02,
                                  -0.7992771707568823e+01, 0.1025137723295662e+01};
constexpr double bend[stages] = {-0.6762803392801253, 0.6087714651680015e+01, 0.1643084320892478e+02,
                                 0.2476722511418386e+02, -0.6594389125712872e+01};
}  // namespace rodas

using Phases = std::span<const std::array<Phase, 2>>;

/// The sheets on their way.
class Walk {
  public:
    Walk(Balance& balance, Phases phases, State start, const Each& allowed_V)
        : balance_(balance), phases_(phases), allowed_V_(allowed_V), at_(std::move(start)) {
        for (State& stage : k_) stage = balance.empty();
        trial_ = before_ = rate_ = by_clamp_ = sum_ = charges_ = balance.empty();
    }

    void enter(std::size_t phase) {
        phase_ = phase;
        time_s_ = 0;
        look();
        next_s_ = 0.3 / balance_.fastest_per_s();
    }

    /// One step, no farther than `end_s` into the phase. False when none is small enough.
    [[nodiscard]] bool step(double end_s) {
        double factor = 1;
        for (int tries = 0; tries < 60; ++tries) {
            const bool to_the_end = !(time_s_ + next_s_ * (1 + 1e-10) < end_s);
            const double h = to_the_end ? end_s - time_s_ : next_s_;
            const double error = attempt(h);
            if (!(error <= 1)) {
                factor = std::isfinite(error) ? std::max(0.2, 0.9 / std::sqrt(std::sqrt(error))) : 0.1;
                next_s_ = h * factor;
                continue;
            }
            before_ = at_;
            at_ = trial_;
            begun_s_ = time_s_;
            time_s_ = to_the_end ? end_s : time_s_ + h;
            // Not larger at once after a step that had to be made smaller.
            const double most = tries > 0 ? 1 : 6;
            const double grown = h * std::min(most, 0.9 / std::sqrt(std::sqrt(std::max(error, 1e-12))));
            next_s_ = to_the_end && h < next_s_ ? std::max(next_s_, grown) : grown;
            ++steps_;
            look();
            return true;
        }
        return false;
    }

    /// Between the ends of the last step.
    [[nodiscard]] State inside(double t) const {
        const double s = (t - begun_s_) / (time_s_ - begun_s_);
        std::array<double, rodas::stages - 1> factors{};
        for (std::size_t i = 0; i < factors.size(); ++i)
            factors[i] = s * (1 - s) * (rodas::inner[i] + s * rodas::bend[i]);
        State out = at_;
        out.combine(&at_, factors, k_);
        out.add(s - 1, at_);
        out.add(1 - s, before_);
        return out;
    }

    [[nodiscard]] Each clamp_V(double t) const {
        return over_sheets([&](const Phase& phase) { return phase.voltage_V(t); });
    }
    [[nodiscard]] const State& at() const { return at_; }
    [[nodiscard]] double time_s() const { return time_s_; }
    [[nodiscard]] std::size_t steps() const { return steps_; }
    void count_from_here() {
        at_.through_C_m.setZero();
        at_.leaked_C_m.setZero();
    }
    [[nodiscard]] const State& rate() const { return rate_; }

  private:
    template <class Of>
    [[nodiscard]] Each over_sheets(Of of) const {
        Each out(static_cast<Index>(phases_.size()));
        for (std::size_t i = 0; i < phases_.size(); ++i) out(static_cast<Index>(i)) = of(phases_[i][phase_]);
        return out;
    }

    /// The rates where the sheets stand: every attempt from here begins with them.
    void look() {
        balance_.linearise(at_, clamp_V(time_s_), rate_);
        const Each slope = over_sheets([&](const Phase& phase) { return phase.slope_V_s(time_s_); });
        clamps_move_ = (slope != 0).any();
        if (clamps_move_) balance_.rates_by_clamp(slope, by_clamp_);
    }

    /// The largest error of a potential, over what is allowed; not finite where the step went astray.
    [[nodiscard]] double attempt(double h) {
        if (!balance_.factor(1 / (rodas::gamma * h))) return NAN;
        for (std::size_t i = 0; i < rodas::stages; ++i) {
            State& k = k_[i];
            if (i == 0) {
                k = rate_;
            } else {
                trial_.combine(&at_, std::span(rodas::a[i], i), k_);
                balance_.rates(trial_, clamp_V(time_s_ + rodas::node[i] * h), k);
                std::array<double, rodas::stages> factors{};
                for (std::size_t j = 0; j < i; ++j) factors[j] = rodas::c[i][j] / h;
                sum_.combine(nullptr, std::span(factors).first(i), k_);
                balance_.charges(sum_, charges_);
                k.add(1, charges_);
            }
            if (clamps_move_) k.add(rodas::slope_part[i] * h, by_clamp_);
            balance_.solve(k);
        }
        const State& error = k_[rodas::stages - 1];
        trial_.add(1, error);
        return trial_.own_V.allFinite() ? error.largest_over(allowed_V_) : NAN;
    }

    Balance& balance_;
    Phases phases_;
    Each allowed_V_;
    std::size_t phase_ = 0;
    State at_, before_;
    double time_s_ = 0, begun_s_ = 0, next_s_ = 0;
    bool clamps_move_ = false;
    std::size_t steps_ = 0;
    State k_[rodas::stages];
    State trial_, rate_, by_clamp_, sum_, charges_;
};

Error no_step() {
    return {Fault::internal, "no step of time is small enough for this sheet", "sheet",
            "allow a larger error, or a weaker dependence on the field"};
}

}  // namespace

Result<std::vector<Course>> follow(Balance& balance, Phases phases, std::span<const double> times_s,
                                   const Options& options) {
    const Phase& charging = phases.front().front();
    const bool steady = std::isinf(charging.start_s);
    Each source_V(static_cast<Index>(phases.size())), allowed_V = source_V;
    for (std::size_t i = 0; i < phases.size(); ++i)
        source_V(static_cast<Index>(i)) = phases[i].front().parts.front().amplitude_V;
    allowed_V = options.tolerance * source_V.abs();
    Walk walk(balance, phases, steady ? balance.steady(source_V) : balance.empty(), allowed_V);
    if (!walk.at().own_V.allFinite()) return no_step();

    std::vector<Course> out(phases.size());
    const auto note = [&](const State& at, double t) {
        balance.note(at, walk.clamp_V(t), options.profiles, out);
    };
    std::size_t next = 0;
    walk.enter(0);
    if (steady) {
        for (; next < times_s.size() && times_s[next] < 0; ++next) {
            State at = walk.at();
            at.leaked_C_m = walk.rate().leaked_C_m * times_s[next];
            at.through_C_m = -at.leaked_C_m;
            note(at, 0);
        }
    } else {
        const auto t = [&] { return times_s[next] - charging.start_s; };
        for (; next < times_s.size() && t() <= 0; ++next) note(walk.at(), 0);
        while (walk.time_s() < charging.length_s) {
            if (!walk.step(charging.length_s)) return no_step();
            for (; next < times_s.size() && times_s[next] < 0 && t() <= walk.time_s(); ++next)
                note(walk.inside(t()), t());
        }
        for (std::size_t k = 0; k < out.size(); ++k)
            for (std::size_t i = 0; i < next; ++i) {
                out[k].through_clamps_C_m[i] -= walk.at().through_C_m(static_cast<Index>(k));
                out[k].leaked_C_m[i] -= walk.at().leaked_C_m(static_cast<Index>(k));
            }
    }
    walk.count_from_here();
    walk.enter(1);
    for (; next < times_s.size() && times_s[next] <= 0; ++next) note(walk.at(), 0);
    while (next < times_s.size()) {
        if (!walk.step(times_s.back())) return no_step();
        for (; next < times_s.size() && times_s[next] <= walk.time_s(); ++next)
            note(walk.inside(times_s[next]), times_s[next]);
    }
    for (Course& course : out) course.steps = walk.steps();
    return out;
}

}  // namespace ebbtide::sheet
