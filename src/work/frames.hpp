#pragma once
// The newest samples, thinned to a frame each tenth of a second of the recording's own time.

#include <functional>

#include "recording/source.hpp"
#include "work/live_event.hpp"

namespace ebbtide::work {

/// Memory: one frame. One thread.
class Frames {
  public:
    static constexpr double frame_s = 0.1;

    /// Hands on each frame that the block completes.
    void take(const recording::Block& block, const std::function<void(const Frame&)>& hand_on);

  private:
    Frame frame_;
    std::vector<double> sums_;
    bool begun_ = false;
};

}  // namespace ebbtide::work
