// What a simulated bench knows of each release, which no recording says.

#include <algorithm>
#include <cmath>
#include <numbers>

#include "bench/simulated_bench.hpp"

namespace ebbtide::bench {
namespace {

constexpr std::array<double, 4> true_levels{0.5, 1 / std::numbers::e, 0.1, 0.01};

}  // namespace

void SimulatedBench::note_release() {
    TrueRelease release;
    release.at_s = moment_s_;
    release.specimen = mounted_ ? mounted_->id : "";
    release.clamp_V = clamp_V();
    release.initial_voltage_V = release.material_V = true_reading_V();
    if (live_) {
        release.material_V = middle_V();
        release.slowest_s = live_->slowest_s();
    }
    releases_.push_back(release);
    watching_ = release.initial_voltage_V != 0;
    watched_s_ = moment_s_;
}

double SimulatedBench::middle_V() const {
    const Eigen::VectorXd own_V = live_->state(moment_s_ - stretch_from_s_).own_V;
    // The one or two in the middle, either way.
    const auto middle = [](const auto& V) {
        return V.block((V.rows() - 1) / 2, (V.cols() - 1) / 2, 2 - V.rows() % 2, 2 - V.cols() % 2).mean();
    };
    if (!mounted_->map) return middle(own_V + clamp_V() * fixture_->from_clamps);
    const auto& cells = maps_.find(mounted_->id)->second.surface_resistivity_ohm_sq;
    return middle(own_V.reshaped(cells.rows(), cells.cols()));
}

// Between looks that lie a tenth further each from the start of the stretch; where it came below, halved.
void SimulatedBench::watch_until(double to_s) {
    if (!watching_ || !(to_s > watched_s_)) return;
    TrueRelease& release = releases_.back();
    const sheet::Stretch& reading = clamped_->reading_V();
    const double sign = release.initial_voltage_V > 0 ? 1 : -1;
    const auto below = [&](double t, double level) {
        return sign * reading.at(t) <= level * std::abs(release.initial_voltage_V);
    };
    const double end = to_s - stretch_from_s_;
    double from = watched_s_ - stretch_from_s_, to = from;
    for (;;) {
        for (std::size_t k = 0; k < true_levels.size(); ++k) {
            if (release.decay_s[k] || !below(to, true_levels[k])) continue;
            double above_s = from, below_s = to;
            for (int i = 0; i < 60 && below_s > above_s; ++i) {
                const double middle = above_s + (below_s - above_s) / 2;
                (below(middle, true_levels[k]) ? below_s : above_s) = middle;
            }
            release.decay_s[k] = stretch_from_s_ + below_s - release.at_s;
        }
        if (to >= end) break;
        from = to;
        to = std::min(end, std::max(1e-6, 1.1 * to));
    }
    watched_s_ = to_s;
    watching_ = std::ranges::any_of(release.decay_s, [](const auto& level) { return !level; });
}

}  // namespace ebbtide::bench
