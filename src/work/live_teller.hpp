#pragma once
// Tells what goes on at a driven bench as live events: phases, guards, commands, questions, and what its
// channels show.

#include <vector>

#include "bench/guarded_bench.hpp"
#include "plan/bench.hpp"
#include "work/frames.hpp"
#include "work/live_event.hpp"

namespace ebbtide::work {

/// One thread. The sinks must outlive it.
class LiveTeller {
  public:
    /// `bench` gives the names of its channels and their scales.
    LiveTeller(const std::vector<LiveSink>& sinks, const plan::Bench& bench);

    void tell(const LiveEvent& event) const;
    /// The bench's two channels, both in volts.
    void opened() const;
    void happening(const bench::Happening& one) const;
    /// Frames as they are full. Samples that a recorder lost leave no trace here.
    void look(const bench::Observation& seen);
    /// Numbers the question, tells it, asks it and tells the answer.
    Answer ask(const Person& person, Question question, const std::string& who, double bench_s);

  private:
    const std::vector<LiveSink>& sinks_;
    std::string name_;
    std::vector<trace::ChannelDescription> channels_;
    bench::Scales scales_;
    Frames frames_;
    recording::Block block_;
    std::uint64_t questions_ = 0;
};

}  // namespace ebbtide::work
