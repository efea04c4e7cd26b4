#pragma once
// A bench that is not there: the physics of a sheet in clamps, a sensor and a recorder before it, commands
// obeyed as relays and sources obey them, and whatever a simulation says shall go wrong.

#include <array>
#include <chrono>
#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "bench/bench.hpp"
#include "bench/recorder.hpp"
#include "plan/simulation.hpp"
#include "sheet/map.hpp"

namespace ebbtide::bench {

/// How fast the bench's clock runs beside ours. While nobody observes it stands still, at any pace: what a
/// person needs for mounting is not made up for.
struct Pace {
    double times = 0;  ///< as fast as a real bench; 0: observe() returns as soon as it has its samples
    static const Pace fast, real;
};
inline constexpr Pace Pace::fast{0}, Pace::real{1};

/// One release as it truly was. Times are of the bench's clock.
struct TrueRelease {
    double at_s = 0;  ///< clamps taken off the source; earthed in the same moment, or not at all
    std::string specimen;
    double clamp_V = 0;            ///< just before
    double initial_voltage_V = 0;  ///< what a sensor without noise and lag would have read just before
    double material_V = 0;         ///< the sheet's potential in the middle just before
    /// From the release until that reading first came to 50 %, 1/e, 10 % and 1 % of initial_voltage_V.
    std::array<std::optional<double>, 4> decay_s;
    std::optional<double> slowest_s;  ///< T1, where the sheet is linear and has no map
};
inline constexpr std::array<std::string_view, 4> true_level_names{"50 %", "1/e", "10 %", "1 %"};

/// A fault that was seen: what, from when, until when.
struct TrueFault {
    plan::FaultKind kind;
    double from_s = 0;
    std::optional<double> to_s = {};
};

/// The same commands at the same bench times give the same samples, bit for bit, whatever the lengths of the
/// stretches that are observed.
class SimulatedBench final : public Bench {
  public:
    struct Options {
        std::optional<std::uint64_t> seed = {};  ///< none: the simulation's
        Pace pace = Pace::fast;
        std::vector<plan::SimulatedFault> faults = {};  ///< besides the simulation's
    };

    /// Clamps earthed, output off, shutter closed, nothing mounted. `believed` gives fixture, scales, full
    /// scale and lag. Bad input: lengths of the fixture are missing or out of range; a map does not fit
    /// the gap, or its sheet hangs.
    [[nodiscard]] static Result<std::unique_ptr<SimulatedBench>> open(const plan::Simulation& simulation,
                                                                      const plan::Bench& believed,
                                                                      const Options& options);

    [[nodiscard]] Result<Done> send(const Command& command) override;
    [[nodiscard]] Result<Observation> observe(double duration_s) override;

    // What a person does at the bench; none of it takes time.

    /// Takes out what hangs in the clamps and mounts, neutralised, a specimen of the simulation; "" leaves
    /// the fixture empty. Bad input: no such specimen, a material out of range, the output is on.
    [[nodiscard]] Result<Done> mount(std::string_view specimen);
    /// After a trip.
    void reset_source() { tripped_ = false; }

    [[nodiscard]] double clock_s() const { return static_cast<double>(now_ns_) * 1e-9; }
    /// Oldest first; the last may still be falling.
    [[nodiscard]] const std::vector<TrueRelease>& releases() const { return releases_; }
    [[nodiscard]] const std::vector<TrueFault>& faults() const { return seen_; }
    [[nodiscard]] bool output_is_on() const { return laid_on_; }
    /// Of the clamps, now.
    [[nodiscard]] double clamp_V() const;
    /// What a sensor without noise, lag and shutter reads now.
    [[nodiscard]] double true_reading_V() const;

  private:
    using Ns = std::int64_t;
    struct FaultEdge {
        std::size_t fault;
        bool begins;
        std::size_t seen = 0;
    };
    enum class Relay { springs_back, makes_again };
    using Happening = std::variant<Command, FaultEdge, Relay>;
    /// What is recorded of one channel ahead of what was observed.
    struct Channel {
        RecorderChannel recorder;
        double delay_s = 0;
        std::vector<double> waiting = {};
        std::uint64_t next = 0;  ///< sample to be recorded next
    };

    SimulatedBench(const plan::Simulation& simulation, const plan::Bench& believed, const Options& options);

    [[nodiscard]] Result<Done> advance(Ns to_ns);
    [[nodiscard]] Result<Done> happen(const Happening& what);
    [[nodiscard]] Result<Done> obey(const Command& command);
    [[nodiscard]] Result<Done> fault_edge(const FaultEdge& edge);
    void take_off_source();
    [[nodiscard]] Result<Done> lay_on_source();
    void record_until(double to_s);
    void watch_until(double to_s);
    void note_release();

    /// Lets the clamps go where switches and source now send them; a new stretch begins.
    [[nodiscard]] Result<Done> switch_clamps();
    [[nodiscard]] Result<Done> begin_stretch(const std::vector<sheet::ExponentialPart>& clamp_V);
    /// The stretch that what hangs in the clamps has begun, as the sensor follows it from what it shows.
    void show(std::vector<sheet::ExponentialPart> clamp_V, double shown_V);
    [[nodiscard]] std::vector<sheet::ExponentialPart> clamps_go_on() const;
    /// What a specimen is by now, between contacts of which the right one may not be its own; from `start`,
    /// or neutralised. Becomes live_.
    [[nodiscard]] Result<std::unique_ptr<sheet::LiveSheet>> hang(const plan::SimulatedSpecimen& specimen,
                                                                 double right_contact_ohm_m,
                                                                 const sheet::Charged* start);
    [[nodiscard]] Result<Done> rehang();
    [[nodiscard]] sheet::Material material_of(const plan::SimulatedSpecimen& specimen) const;
    /// Of the sheet that hangs, in its middle.
    [[nodiscard]] double middle_V() const;

    void schedule(Ns at_ns, Happening what) { coming_.emplace(at_ns, std::move(what)); }
    [[nodiscard]] double delay_of_command_s(Action action) const;
    /// The fault of this kind that lasts, if any.
    [[nodiscard]] const plan::SimulatedFault* on(plan::FaultKind kind) const;
    [[nodiscard]] State read_back(plan::Readback which, bool truth) const;

    plan::Simulation simulation_;
    std::vector<plan::SimulatedFault> faults_;
    std::uint64_t seed_;
    Pace pace_;
    std::chrono::steady_clock::time_point due_;  ///< when the clock stands at now_ns_, at its pace
    double lag_s_;
    std::shared_ptr<const sheet::CutSheet> fixture_;
    std::map<std::string, sheet::SheetMap, std::less<>> maps_;  ///< of specimens that have one, by id

    Ns now_ns_ = 0;
    std::multimap<Ns, Happening> coming_;
    std::vector<bool> lasting_;  ///< faults, by number
    std::vector<TrueFault> seen_;
    int times_on_ = 0;

    // Switches as they stand, not as they were commanded.
    double set_V_ = 0, given_V_ = 0;
    bool laid_on_ = false, earthed_ = true, sprung_ = false, shutter_closed_ = true, tripped_ = false;
    bool interlock_closed_ = true;

    std::unique_ptr<sheet::Clamped> clamped_;
    sheet::LiveSheet* live_ = nullptr;                 ///< the same, where it is a sheet
    double hung_ohm_sq_ = 0, hung_contact_ohm_m_ = 0;  ///< of that sheet, the contact at its right
    const plan::SimulatedSpecimen* mounted_ = nullptr;
    bool slipped_ = false;
    double drift_from_s_ = 0;
    sheet::Stretch clamps_, sensed_;            ///< since stretch_from_s_
    double stretch_from_s_ = 0, moment_s_ = 0;  ///< bench clock; the moment that is worked at

    Channel specimen_, electrode_;
    std::uint64_t observed_ = 0, lost_ = 0;

    std::vector<TrueRelease> releases_;
    bool watching_ = false;
    double watched_s_ = 0;
    std::vector<double> scratch_;
};

}  // namespace ebbtide::bench
