#pragma once
// Drives a bench through guarded runs: looks, asks guarded_run.hpp what follows, sends it, tells what
// happens.

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "bench/bench.hpp"
#include "bench/guarded_run.hpp"

namespace ebbtide::bench {

/// A guard as a look left it. Nothing: what it asks of is still being read.
struct GuardSeen {
    Guard guard = Guard::interlock_closed;
    std::optional<bool> met = {};
};
/// Of a phase that was just entered: what it will wait for, before anything is known.
[[nodiscard]] std::vector<GuardSeen> guards_ahead(Phase phase);

/// Something that happened, by the bench's clock. For the screen, the log and the record.
struct Happening {
    enum class Kind {
        phase,    ///< another phase began: `phase`, because of `event`
        command,  ///< was sent
        refused,  ///< was not taken, or did not leave: `words` says why
        waits,    ///< `unmet` changed
        found,    ///< what the bench was found doing at the start, in `words`
        live,     ///< what may still be live, in `words`
    } kind = Kind::phase;
    double bench_s = 0;
    Phase phase = Phase::safe;
    Event event = Event::look;
    std::optional<Command> command = {};
    std::vector<Guard> unmet = {};
    std::vector<GuardSeen> guards = {};  ///< of `phase` and `waits`: all that the phase asks for
    std::string words = {};
    std::optional<double> lasts_s = {};  ///< of `phase`: as set_length_s() has it
};
[[nodiscard]] std::string_view name_of(Happening::Kind kind);
/// One line for a person.
[[nodiscard]] std::string words_of(const Happening& happening);

/// Who listens and who may stop it. Each may be empty.
struct Ports {
    std::function<void(const Happening&)> tell = {};
    std::function<bool()> stop = {};                    ///< asked at every look; true stops for good
    std::function<void(const Observation&)> look = {};  ///< every one
    /// From the zero to the end of a run.
    std::function<void(const Observation&, const RunState&)> keep = {};
};

/// How a run ended; born failed.
struct Driven {
    bool recorded = false;
    bool began = false;          ///< it left `safe`
    Phase during = Phase::safe;  ///< the phase in which it ended
    Event ended_by = Event::look;
    std::vector<Guard> unmet = {};  ///< what it waited for in vain
    std::string may_be_live = {};   ///< what could not be shown to be off; empty when all was
    RunState state = {};            ///< at the end of the fall, or before the abort
    bool level_reached = false;
    bool accepted = false;
    /// What is wrong and how to mend it; empty when recorded.
    [[nodiscard]] std::string words() const;
};

/// What the bench was found doing.
struct Found {
    bool answers = false;
    bool output_was_on = false;
    bool at_rest = false;  ///< output read off, electrode near zero
    std::string may_be_live = {};
};

/// One thread. Its end, whatever the way out, sends output_off and earth_clamps.
class GuardedBench {
  public:
    GuardedBench(Bench& bench, const plan::DriveLimits& limits, const Scales& scales, Ports ports);
    ~GuardedBench();
    GuardedBench(const GuardedBench&) = delete;
    GuardedBench& operator=(const GuardedBench&) = delete;

    /// Output off, clamps earthed, then looks until that shows. First of all, and after an abort that a
    /// person has looked into. A run that was killed may have left the output on.
    Found make_safe();
    /// One run. Waits in `safe` for the guards of a start as long as the limits allow.
    Driven run(const RunAim& aim);
    /// Looks on for so long; false when it was stopped or the bench went wrong meanwhile.
    bool rest(double duration_s);

    [[nodiscard]] double now_s() const { return state_.now_s; }
    [[nodiscard]] const RunState& state() const { return state_; }

  private:
    /// One look and what follows from it.
    Step go_on(Seen::Person person, const std::optional<RunAim>& aim = {});
    bool send_all(const std::vector<Command>& commands);
    void send_off();
    void tell(Happening happening) const;
    void tell_waits(const Step& taken);
    [[nodiscard]] std::string what_may_be_live() const;
    std::string look_until_dead(Seen::Person person);

    Bench& bench_;
    plan::DriveLimits limits_;
    Scales scales_;
    Ports ports_;
    RunState state_;
    std::vector<Guard> waits_for_;
    bool link_ = true;
    State output_on_ = State::unread;  ///< as last read
    bool may_be_on_ = true;  ///< until it was read off after the last command that could switch it on
};

}  // namespace ebbtide::bench
