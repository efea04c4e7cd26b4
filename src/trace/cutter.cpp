#include "trace/cutter.hpp"

#include <algorithm>
#include <cmath>

namespace ebbtide::trace {
namespace {

constexpr std::size_t head_length = 32;  // samples looked at before the opening of a segment is decided
constexpr std::uint64_t lead_limit = 1u << 18;       // samples kept before a charge
constexpr std::uint64_t band_generation = 1u << 16;  // samples after which the quiet band starts to forget
constexpr std::uint64_t tail_factor = 8;  // a run is kept this many times as long as it took to come to rest
constexpr std::uint64_t tail_least = 64;
constexpr std::uint64_t shortest_run = 12;   // samples; a shorter excursion is noise, and widens the band
constexpr std::size_t pending_limit = 1024;  // runs on probation ...
constexpr std::uint64_t pending_span = 1u << 22;  // ... within so many samples
constexpr std::size_t ripple_runs = 48;           // without a rest between them are hum
constexpr double bounce_share = 0.002;    // of the hold: a shorter dip is a bouncing contact, not a new run
constexpr double probation_share = 0.25;  // of a later, higher run: an unproven run below it was noise
constexpr double least_share = 0.1;       // of the highest run: even a proven one below it is drift

double median(double a, double b, double c) {
    return std::max(std::min(a, b), std::min(std::max(a, b), c));
}

std::uint64_t back_from(std::uint64_t index, std::uint64_t by) {
    return index > by ? index - by : 0;
}

}  // namespace

void RunCutter::add(std::span<const double> drive, std::span<const double> specimen,
                    std::vector<RunSpan>& found) {
    follows_specimen_ = !specimen.empty();
    for (std::size_t i = 0; i < drive.size(); ++i) {
        const Sample next{drive[i], follows_specimen_ ? specimen[i] : drive[i]};
        if (received_ == 1)
            take(waiting_, found);
        else if (received_ > 1)
            take({median(before_.drive, waiting_.drive, next.drive),
                  median(before_.specimen, waiting_.specimen, next.specimen)},
                 found);
        before_ = waiting_;
        waiting_ = next;
        ++received_;
    }
}

void RunCutter::finish(std::vector<RunSpan>& found) {
    if (received_ > 0) take(waiting_, found);
    if (state_ == State::opening) open_segment(found);
    if (state_ == State::active && has_fallen()) close_run(index_, found);
    settle_pending(probation_share * highest_pending(), found);
    *this = RunCutter{};
}

std::optional<RunCutter::InProgress> RunCutter::in_progress() const {
    if (state_ != State::active) return {};
    InProgress out{run_, rest_from_.has_value()};
    out.span.end = index_;
    out.span.first_low = std::min(first_low_.value_or(index_), index_);
    return out;
}

std::uint64_t RunCutter::oldest_needed() const {
    if (!pending_.empty()) return pending_.front().first;
    if (state_ == State::active) return run_.first;
    return std::max(quiet_from_, back_from(index_, lead_limit));
}

void RunCutter::take(Sample sample, std::vector<RunSpan>& found) {
    if (state_ == State::opening) {
        head_.push_back(sample);
        if (head_.size() == head_length) open_segment(found);
        return;
    }
    step_ = std::abs(sample.drive - last_drive_);
    if (step_ > 0) smallest_step_ = std::min(smallest_step_, step_);
    last_drive_ = sample.drive;
    if (state_ == State::quiet)
        take_quiet(sample, found);
    else
        take_active(sample, found);
    ++index_;
}

// A segment opens quiet, charged, or in the middle of a change. What follows would be misread if noise were
// taken for a change or a change for noise, so the first samples are looked at together.
void RunCutter::open_segment(std::vector<RunSpan>& found) {
    std::vector<Sample> head;
    head.swap(head_);
    state_ = State::quiet;
    if (head.empty()) return;

    std::vector<double> steps;
    double travelled = 0;
    for (std::size_t i = 1; i < head.size(); ++i) {
        steps.push_back(std::abs(head[i].drive - head[i - 1].drive));
        travelled += steps.back();
    }
    const double net = std::abs(head.back().drive - head.front().drive);
    const double largest_step = steps.empty() ? 0 : *std::ranges::max_element(steps);
    std::size_t quiet = head.size();
    bool charged = false;
    if (steps.size() >= 2 && net - largest_step > 0.6 * (travelled - largest_step)) {
        // Hardly any step back, even without the largest: the signal is on its way, up or down.
        quiet = 1;
        while (quiet < head.size() && head[quiet].drive == head[0].drive) ++quiet;
        charged = std::abs(head.back().drive) < std::abs(head[0].drive);
    } else if (!steps.empty()) {
        std::vector<double> sorted = steps;
        const std::size_t upper = sorted.size() * 3 / 4;
        std::ranges::nth_element(sorted, sorted.begin() + static_cast<std::ptrdiff_t>(upper));
        // Of 31 steps of white noise the largest is some three times their upper quartile; a last digit that
        // flickers makes many steps of the same size, a charge and a release between samples two.
        const auto as_large =
            std::ranges::count_if(steps, [&](double step) { return step > 0.5 * largest_step; });
        // Nor does noise go much further than a step after it stood still: up a ramp, along a hold and down
        // does.
        const auto [lowest, highest] = std::ranges::minmax_element(head, {}, &Sample::drive);
        const bool far =
            steps.size() >= 4 &&
            highest->drive - lowest->drive > 15 * travelled / static_cast<double>(steps.size()) &&
            std::max({steps[0], steps[1], steps[2], steps[3]}) < 0.1 * largest_step;
        if (far || (largest_step > 8 * sorted[upper] && as_large <= 4)) {
            const auto change =
                std::ranges::find_if(steps, [&](double step) { return step > 0.2 * largest_step; });
            quiet = static_cast<std::size_t>(change - steps.begin()) + 1;
        }
    }

    drive_band_.restart(head[0].drive);
    specimen_band_.restart(head[0].specimen);
    last_drive_ = head[0].drive;
    quiet_from_ = 0;
    if (charged && quiet == 1) {
        begin_charged(head[0].drive, head[0].specimen);
        index_ = 1;
    } else {
        for (std::size_t i = 1; i < quiet; ++i) {
            drive_band_.widen(head[i].drive, 0);
            drive_band_.take(head[i].drive);
            specimen_band_.widen(head[i].specimen, 0);
            specimen_band_.take(head[i].specimen);
        }
        if (quiet > 1)
            quiet_step_ =
                *std::max_element(steps.begin(), steps.begin() + static_cast<std::ptrdiff_t>(quiet - 1));
        index_ = quiet;
    }
    for (std::size_t i = static_cast<std::size_t>(index_); i < head.size(); ++i) take(head[i], found);
}

void RunCutter::take_quiet(Sample sample, std::vector<RunSpan>& found) {
    const double beyond = std::max(sample.drive - drive_band_.top(), drive_band_.bottom() - sample.drive);
    const double width = drive_band_.width();
    if (beyond <= width) quiet_step_ = std::max(quiet_step_, step_);
    if (beyond <= 0) {
        drive_band_.take(sample.drive);
        specimen_band_.take(sample.specimen);
        return;
    }
    if (beyond <= width) {
        drive_band_.look_outside(sample.drive);
        specimen_band_.look_outside(sample.specimen);
        return;
    }
    const double base = drive_band_.mean();
    if (starts_a_fall(base, sample.drive)) {
        begin_charged(base, specimen_band_.mean());
    } else {
        begin_run(std::max(quiet_from_, back_from(index_, lead_limit)), base,
                  sample.drive > base ? 1.0 : -1.0, sample.drive);
        specimen_base_ = specimen_band_.mean();
    }
    take_active(sample, found);
}

/// Toward zero, from a level that towers over all that was seen so far.
bool RunCutter::starts_a_fall(double base, double drive) const {
    return established_height_ == 0 && std::abs(drive - base) < 2 * std::abs(base) &&
           (drive - base) * base < 0 && std::abs(base) > 2 * drive_band_.width() &&
           highest_pending() < probation_share * std::abs(base);
}

void RunCutter::begin_charged(double level, double specimen_level) {
    // What was found before was noise on the hold.
    const std::uint64_t first = std::max(oldest_needed(), back_from(index_, lead_limit));
    pending_.clear();
    begin_run(first, 0.0, level < 0 ? -1.0 : 1.0, level);
    run_.starts_charged = true;
    run_.charge_start = run_.first;
    run_.last_high = back_from(index_, 1);
    specimen_height_ = std::abs(specimen_level);
    standing_ = level;
    standing_until_ = index_;
}

void RunCutter::begin_run(std::uint64_t first, double base, double sign, double drive) {
    run_ = RunSpan{};
    run_.first = first;
    run_.charge_start = index_;
    run_.last_high = index_;
    run_.base = base;
    run_.sign = sign;
    run_.height = std::max(0.0, sign * (drive - base));
    risen_ = index_;
    // A charge may rise within one sample: the step that left the quiet is one of its rise.
    run_step_ = rise_step_ = step_;
    risen_height_ = run_.height;
    min_height_ = run_.height;
    min_index_ = index_;
    still_until_ = index_;
    standing_ = 0;
    standing_from_ = first;
    first_low_.reset();
    rest_from_.reset();
    specimen_base_ = 0;
    specimen_height_ = 0;
    mean_sum_ = highest_mean_ = last_mean_ = 0;
    mean_count_ = 0;
    state_ = State::active;
}

// What looked like a charge that the recording started in was a base off zero: a far larger one begins at it.
void RunCutter::take_standing_for_base(double height) {
    run_.starts_charged = false;
    run_.first = std::max(standing_from_, back_from(standing_until_, lead_limit));
    run_.charge_start = standing_until_ + 1;
    run_.base = standing_;
    run_.height = risen_height_ = min_height_ = height - run_.sign * standing_;
    run_.last_high = min_index_ = index_;
    specimen_base_ = specimen_band_.mean();
    standing_ = 0;
}

/// How far the drive must come back from its lowest for that to be a new charge.
double RunCutter::recharge_threshold() const {
    // A fall that is over leaves room for a lower voltage. Before it is, slow noise is in doubt until it has
    // been watched for long, and a recharge mostly reaches the full height again.
    double share = drive_band_.count >= 1u << 14 ? 0.25 : 0.45;
    const bool little_noise = drive_band_.known() && drive_band_.width() < 0.02 * run_.height;
    if (little_noise && min_height_ < 0.05 * run_.height) share = 0.15;
    // The lowest and the highest of a long tail lie further apart than those of a short quiet stretch.
    return std::max(share * run_.height, 2.5 * drive_band_.width());
}

void RunCutter::take_active(Sample sample, std::vector<RunSpan>& found) {
    const double height = run_.sign * (sample.drive - run_.base);
    const double threshold = recharge_threshold();
    const bool full_again = min_height_ < 0.6 * run_.height && height >= 0.9 * run_.height &&
                            height - min_height_ > 2.5 * drive_band_.width();
    const bool rises_again =
        min_height_ < 0.75 * run_.height && (full_again || height - min_height_ > threshold);
    const bool bounces = static_cast<double>(index_ - run_.last_high) <
                         bounce_share * static_cast<double>(run_.last_high - run_.charge_start);
    const bool other_side = -height > threshold;
    if (height - min_height_ < 0.5 * threshold && -height < 0.5 * threshold) still_until_ = index_;
    if ((rises_again && !bounces) || other_side) {
        const RunSpan previous = run_;
        const double specimen_base = specimen_base_;
        const double standing = other_side && !rest_from_ ? standing_ : 0;
        const std::uint64_t standing_until = standing_until_;
        const std::uint64_t rest = rest_from_.value_or(first_low_.value_or(min_index_));
        // As long before it was half-way there as it took since.
        const std::uint64_t halfway = index_ - std::max(still_until_, min_index_);
        const std::uint64_t end = std::max(std::max(min_index_, rest) + 1, back_from(index_, 2 * halfway));
        const bool kept = close_run(end, found);
        if (other_side && starts_a_fall(previous.base, sample.drive)) {
            begin_charged(previous.base, specimen_band_.mean());
            return;
        }
        begin_run(std::max(kept ? rest : previous.first, back_from(index_, lead_limit)), previous.base,
                  other_side ? -previous.sign : previous.sign, sample.drive);
        run_.charge_start = end;
        specimen_base_ = specimen_base;
        standing_ = standing;
        standing_from_ = previous.first;
        standing_until_ = standing_until;
        return;
    }

    run_step_ = std::max(run_step_, step_);
    if (height > 1.1 * risen_height_) {
        risen_ = index_;
        rise_step_ = run_step_;
        risen_height_ = height;
        if (standing_ != 0 && std::abs(standing_) < probation_share * height) {
            take_standing_for_base(height);
            return;
        }
    }
    if (run_.starts_charged && height > 0.8 * std::abs(standing_) && height < 1.25 * std::abs(standing_))
        standing_until_ = index_;
    run_.height = std::max(run_.height, height);
    if (height >= 0.9 * run_.height) {
        run_.last_high = index_;
        min_height_ = height;
        min_index_ = index_;
        first_low_.reset();
        rest_from_.reset();
    } else {
        if (height < min_height_) {
            min_height_ = height;
            min_index_ = index_;
        }
        if (!first_low_ && height < 0.5 * run_.height) first_low_ = index_;
    }

    mean_sum_ += height;
    if (++mean_count_ == 16) {
        last_mean_ = mean_sum_ / 16;
        highest_mean_ = std::max(highest_mean_, last_mean_);
        mean_sum_ = 0;
        mean_count_ = 0;
    }

    const double specimen_height = std::abs(sample.specimen - specimen_base_);
    specimen_height_ = std::max(specimen_height_, specimen_height);
    if (!first_low_) return;
    if (!rest_from_) {
        const double noise = 0.35 * (follows_specimen_ ? specimen_band_ : drive_band_).width();
        if (specimen_height <= std::max(0.005 * specimen_height_, noise)) {
            rest_from_ = index_;
            rest_until_ = index_ + tail_factor * (index_ - run_.last_high) + tail_least;
            rest_band_.restart(sample.drive);
        }
        return;
    }
    rest_band_.widen(sample.drive, 0);
    rest_band_.take(sample.drive);
    if (index_ < rest_until_) return;
    const bool kept = close_run(index_ + 1, found);
    if (kept) {
        quiet_from_ = *rest_from_;
        if (established_height_ == 0 && !run_.starts_charged) {
            // It may have been noise, which the rest after it shows only a part of.
            rest_band_.widen(drive_band_.bottom(), 0);
            rest_band_.widen(drive_band_.top(), 0);
        }
        drive_band_ = rest_band_;
    } else {
        quiet_from_ = run_.first;
        drive_band_.widen(run_.base + run_.sign * run_.height, index_ - run_.charge_start);
    }
    state_ = State::quiet;
}

bool RunCutter::has_fallen() const {
    if (first_low_) return true;
    if (highest_mean_ > 0) return last_mean_ < 0.95 * highest_mean_;
    return min_height_ < 0.9 * run_.height;
}

double RunCutter::highest_pending() const {
    double highest = 0;
    for (const RunSpan& run : pending_) highest = std::max(highest, run.height);
    return highest;
}

bool RunCutter::close_run(std::uint64_t end, std::vector<RunSpan>& found) {
    run_.end = end;
    run_.first_low = std::min(first_low_.value_or(end), end);
    const double width = drive_band_.width();
    if (run_.height <= 2 * width) return false;  // noise
    if (!run_.starts_charged && rest_from_.value_or(end) - run_.charge_start < shortest_run) return false;
    // Proven runs stand out from a noise that is known, from the recorder's smallest step and from all that
    // came before, and rise in larger steps than the quiet stretch made: slow noise rises as it wanders.
    const bool quick = rise_step_ > 4 * quiet_step_;
    const bool proven = drive_band_.known() && !run_.starts_charged && quick && run_.height > 16 * width &&
                        run_.height > 6 * smallest_step_ && run_.height > 4 * highest_pending();
    offer(run_, proven, found);
    return true;
}

void RunCutter::offer(const RunSpan& run, bool proven, std::vector<RunSpan>& found) {
    if (established_height_ == 0 && !proven) {
        pending_.push_back(run);
        if (pending_.size() % ripple_runs == 0 && !drive_band_.known() && take_for_ripple()) return;
        while (pending_.size() > pending_limit || index_ - pending_.front().first > pending_span) {
            // Noise may have been learnt since.
            if (pending_.front().height >=
                std::max(probation_share * highest_pending(), 2 * drive_band_.width()))
                found.push_back(pending_.front());
            pending_.erase(pending_.begin());
            if (pending_.empty()) break;
        }
        return;
    }
    settle_pending(probation_share * std::max(run.height, highest_pending()), found);
    if (run.height < (proven ? least_share : probation_share) * established_height_) return;
    established_height_ = std::max(established_height_, run.height);
    found.push_back(run);
}

/// So many runs in a stream that has never been quiet, with no rest between them, are hum.
bool RunCutter::take_for_ripple() {
    for (std::size_t i = 1; i < pending_.size(); ++i)
        if (pending_[i].charge_start > pending_[i - 1].end + 1) return false;
    for (const RunSpan& run : pending_)
        drive_band_.widen(run.base + run.sign * run.height, run.end - run.charge_start);
    pending_.clear();
    return true;
}

void RunCutter::settle_pending(double least_height, std::vector<RunSpan>& found) {
    for (const RunSpan& run : pending_)
        if (run.height >= least_height) found.push_back(run);
    pending_.clear();
}

void RunCutter::Band::restart(double value) {
    *this = Band{};
    low = high = earlier_low = earlier_high = outside_low = outside_high = sum = value;
    generation = count = 1;
}

void RunCutter::Band::widen(double value, std::uint64_t samples) {
    low = std::min(low, value);
    high = std::max(high, value);
    count += samples;
}

void RunCutter::Band::look_outside(double value) {
    outside_low = std::min(outside_low, value);
    outside_high = std::max(outside_high, value);
}

void RunCutter::Band::take(double value) {
    const bool back = std::abs(value - 0.5 * (top() + bottom())) <= 0.25 * width();
    if (back) {
        low = std::min(low, outside_low);
        high = std::max(high, outside_high);
    }
    low = std::min(low, value);
    high = std::max(high, value);
    sum += value;
    ++count;
    if (++generation == band_generation) {
        earlier_low = low;
        earlier_high = high;
        low = high = outside_low = outside_high = sum = value;
        generation = 1;
    }
}

}  // namespace ebbtide::trace
