#include "stats/monte_carlo.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <exception>
#include <limits>
#include <mutex>
#include <stdexcept>
#include <thread>
#include <vector>

#include "lanes/tally.hpp"

namespace ebbtide::stats {
namespace {

constexpr std::size_t block_trials = 10'000;  // JCGM 101:2008, 7.9.4 b for a 95 % interval
constexpr std::size_t chunk_trials = 2048;    // what the fastest cache holds while the inputs are added up
constexpr std::size_t outside = block_trials / 20;  // trials of a block that lie outside its interval
constexpr double normal_quantile = 1.959963984540054;

/// Values at or beyond these are kept: the ends of every interval lie among them, and the rest need not be
/// remembered.
struct Bounds {
    double low = std::numeric_limits<double>::infinity();
    double high = -std::numeric_limits<double>::infinity();
};

struct Block {
    double mean = 0, u = 0;
    Interval interval;
    double variance = 0;
    std::vector<double> low, high;  ///< the values at or beyond the bounds, in no order
};

std::ptrdiff_t offset(std::size_t index) {
    return static_cast<std::ptrdiff_t>(index);
}

double nth_smallest(std::span<double> values, std::size_t index) {
    std::ranges::nth_element(values, values.begin() + offset(index));
    return values[index];
}

double nth_largest(std::span<double> values, std::size_t index) {
    std::ranges::nth_element(values, values.begin() + offset(index), std::greater{});
    return values[index];
}

/// The sums of a block and its values beyond the bounds, as chunk after chunk arrives.
class BlockTally {
  public:
    explicit BlockTally(const Bounds& bounds)
        : kept_(block_trials + 4), sorted_out_(kept_.size()), bounds_(bounds) {}

    void start(double shift) {
        tally_ = {};
        tally_.shift = shift;
        tally_.low = bounds_.low;
        tally_.high = bounds_.high;
        tally_.kept = kept_.data();
    }
    void add(std::span<const double> values) { lanes::count_in(values, tally_); }
    [[nodiscard]] double mean() const { return tally_.shift + total(tally_.sum) / n; }
    [[nodiscard]] double variance() const {
        const double sum = total(tally_.sum);
        return std::max(0.0, (total(tally_.squares) - sum * sum / n) / (n - 1));
    }
    [[nodiscard]] std::vector<double> low() {
        return those([this](double value) { return value <= bounds_.low; });
    }
    [[nodiscard]] std::vector<double> high() {
        return those([this](double value) { return value >= bounds_.high; });
    }

  private:
    static constexpr double n = block_trials;

    static double total(const std::array<double, 4>& parts) {
        return (parts[0] + parts[1]) + (parts[2] + parts[3]);
    }
    template <class Wanted>
    [[nodiscard]] std::vector<double> those(Wanted wanted) {
        const std::span<const double> kept(kept_.data(), tally_.kept);
        double* next = sorted_out_.data();
        for (const double value : kept) {  // written always, as a branch would be guessed wrong half the time
            *next = value;
            next += wanted(value);
        }
        return {sorted_out_.data(), next};
    }

    std::vector<double> kept_, sorted_out_;
    Bounds bounds_;
    lanes::Tally tally_;
};

/// What one thread needs to make blocks.
class Maker {
  public:
    Maker(const Model& model, const Bounds& bounds, bool heavy_tails)
        : model_(model), heavy_tails_(heavy_tails), tally_(bounds), values_(block_trials) {}

    Block block(std::size_t index) {
        const std::uint64_t first = std::uint64_t{index} * block_trials;
        for (std::size_t at = 0; at < block_trials;) {
            const std::size_t take =
                std::min<std::size_t>(block_trials - at, chunk_trials - (first + at) % chunk_trials);
            const std::span<double> chunk = std::span(values_).subspan(at, take);
            std::ranges::fill(chunk, 0.0);
            model_(first + at, chunk);
            if (at == 0) tally_.start(chunk.front());
            tally_.add(chunk);
            at += take;
        }
        Block block;
        block.mean = tally_.mean();
        block.variance = tally_.variance();
        if (!std::isfinite(block.mean) || !(std::isfinite(block.variance) || heavy_tails_))
            throw std::domain_error("a Monte Carlo model gave a value that is not finite");
        block.u = std::sqrt(block.variance);
        block.low = tally_.low();
        block.high = tally_.high();
        constexpr std::size_t r = outside / 2;  // the interval is [y(r), y(M - r)], counted from 1
        block.interval = {
            block.low.size() >= r ? nth_smallest(block.low, r - 1) : nth_smallest(values_, r - 1),
            block.high.size() > r ? nth_largest(block.high, r) : nth_largest(values_, r)};
        if (heavy_tails_) {
            block.mean = nth_smallest(values_, block_trials / 2);
            block.u = (block.interval.high - block.interval.low) / (2 * normal_quantile);
        }
        return block;
    }
    /// So that a block like the one just made keeps this share of its values at either side.
    [[nodiscard]] Bounds bounds(double share) {
        const auto kept = static_cast<std::size_t>(share * block_trials);
        return {nth_smallest(values_, kept), nth_largest(values_, kept)};
    }

  private:
    const Model& model_;
    bool heavy_tails_;
    BlockTally tally_;
    std::vector<double> values_;
};

/// Mean of a quantity over the blocks so far, and the standard deviation of that mean.
struct Average {
    double mean = 0, squares = 0, count = 0;

    void add(double value) {
        const double before = value - mean;
        mean += before / ++count;
        squares += before * (value - mean);
    }
    [[nodiscard]] double s() const { return std::sqrt(squares / (count * (count - 1))); }
};

/// Takes blocks in their order and says when enough are there.
class Progress {
  public:
    explicit Progress(const MonteCarloOptions& options)
        : options_(options),
          least_(std::max<std::size_t>(2, options.least_trials / block_trials)),
          most_(std::max(least_, options.most_trials / block_trials)) {}

    void take(Block block) {
        mean_.add(block.mean);
        u_.add(block.u);
        low_.add(block.interval.low);
        high_.add(block.interval.high);
        variance_.add(block.variance);
        blocks_.push_back(std::move(block));
        if (blocks_.size() < least_) return;
        const double tolerance = tolerance_of(u(), options_.digits);
        stable_ = 2 * std::max({mean_.s(), u_.s(), low_.s(), high_.s()}) <= tolerance;
    }
    [[nodiscard]] bool finished() const { return stable_ || blocks_.size() >= most_; }
    [[nodiscard]] std::size_t taken() const { return blocks_.size(); }
    [[nodiscard]] std::size_t most() const { return most_; }

    /// Nothing when the bounds were set so that an end lies among the values that were not kept.
    [[nodiscard]] std::optional<MonteCarloResult> result() const {
        std::vector<double> low, high;
        low.reserve(blocks_.size() * block_trials / 10);
        high.reserve(low.capacity());
        for (const Block& block : blocks_) {
            low.insert(low.end(), block.low.begin(), block.low.end());
            high.insert(high.end(), block.high.begin(), block.high.end());
        }
        const std::size_t beyond = outside * blocks_.size(), r = beyond / 2;
        const std::size_t needed = options_.shortest ? beyond : r + 1;
        if (low.size() < needed || high.size() < needed) return {};
        MonteCarloResult out;
        out.trials = blocks_.size() * block_trials;
        out.stable = stable_;
        out.mean = mean_.mean;
        if (options_.shortest) out.shortest = shortest(low, high, beyond);
        out.symmetric = {nth_smallest(low, r - 1), nth_largest(high, r)};
        out.u = options_.heavy_tails ? (out.symmetric.high - out.symmetric.low) / (2 * normal_quantile) : u();
        return out;
    }

  private:
    [[nodiscard]] double u() const {
        if (options_.heavy_tails) return u_.mean;
        constexpr double m = block_trials;
        const double h = mean_.count;
        return std::sqrt(((m - 1) * h * variance_.mean + m * mean_.squares) / (m * h - 1));
    }
    static Interval shortest(std::vector<double>& low, std::vector<double>& high, std::size_t beyond) {
        std::ranges::sort(low);
        std::ranges::sort(high);
        const std::size_t skip = high.size() - beyond;
        Interval best{low[0], high[skip]};
        for (std::size_t i = 1; i < beyond; ++i)
            if (high[skip + i] - low[i] < best.high - best.low) best = {low[i], high[skip + i]};
        return best;
    }

    const MonteCarloOptions& options_;
    std::size_t least_, most_;
    std::vector<Block> blocks_;
    Average mean_, u_, low_, high_, variance_;
    bool stable_ = false;
};

/// Blocks are made by any thread and taken in order; those beyond the last that was needed are dropped.
void run(const Model& model, const Bounds& bounds, const MonteCarloOptions& options, Progress& progress) {
    std::mutex guard;
    std::vector<std::optional<Block>> waiting(progress.most());
    std::size_t next = progress.taken();
    std::exception_ptr failure;
    const auto work = [&] {
        try {
            Maker maker(model, bounds, options.heavy_tails);
            for (;;) {
                std::size_t index = 0;
                {
                    const std::lock_guard lock(guard);
                    if (failure || progress.finished() || next >= progress.most()) return;
                    index = next++;
                }
                Block block = maker.block(index);
                const std::lock_guard lock(guard);
                waiting[index] = std::move(block);
                while (!progress.finished() && waiting[progress.taken()]) {
                    const std::size_t turn = progress.taken();
                    progress.take(std::move(*waiting[turn]));
                }
            }
        } catch (...) {
            const std::lock_guard lock(guard);
            failure = std::current_exception();
        }
    };
    {
        std::vector<std::jthread> others;
        for (unsigned i = 1; i < options.threads; ++i) others.emplace_back(work);
        work();
    }
    if (failure) std::rethrow_exception(failure);
}

}  // namespace

double tolerance_of(double u, int digits) {
    if (!(u > 0)) return 0;
    return 0.5 * std::pow(10.0, std::floor(std::log10(u)) - (digits - 1));
}

MonteCarloResult monte_carlo(const Model& model, const MonteCarloOptions& options) {
    // A fortieth lies beyond either end, a twentieth when the shortest interval is sought; the first block
    // sees these places to 0.25 % of the trials.
    for (double share = options.shortest ? 0.07 : 0.04;; share = 1) {
        Maker first(model, {}, options.heavy_tails);
        Block block = first.block(0);
        const Bounds bounds = share < 1 ? first.bounds(share) : Bounds{};
        std::erase_if(block.low, [&](double value) { return value > bounds.low; });
        std::erase_if(block.high, [&](double value) { return value < bounds.high; });
        Progress progress(options);
        progress.take(std::move(block));
        run(model, bounds, options, progress);
        if (const auto result = progress.result()) return *result;
    }
}

}  // namespace ebbtide::stats
