#include "work/run_progress.hpp"

namespace ebbtide::work {

void RunProgress::follow(const Measuring& measuring, const std::function<void(const LiveEvent&)>& tell,
                         const std::string& step) {
    const auto run = measuring.in_progress();
    if (!run) return;
    if (run->charge_start_s != begun_s_) {
        begun_s_ = run->charge_start_s;
        fallen_ = false;
        tell(RunBegun{begun_s_, {}, step});
    }
    if (!run->at_rest) fallen_ = false;
    if (!run->at_rest || fallen_) return;
    fallen_ = true;
    if (const auto figures = measuring.figures_so_far()) tell(RunFallen{*figures});
}

}  // namespace ebbtide::work
