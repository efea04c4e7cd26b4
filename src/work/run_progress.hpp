#pragma once
// What a run that is heard has come to, told once each: its charge has begun, its fall is over.

#include <functional>
#include <optional>
#include <string>

#include "work/live_event.hpp"
#include "work/measuring.hpp"

namespace ebbtide::work {

class RunProgress {
  public:
    /// Between blocks. `step` names what is run in a bench check; else empty.
    void follow(const Measuring& measuring, const std::function<void(const LiveEvent&)>& tell,
                const std::string& step = "");

  private:
    std::optional<double> begun_s_;
    bool fallen_ = false;
};

}  // namespace ebbtide::work
