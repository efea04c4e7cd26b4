#pragma once
// The runs that were looked at last, with all their samples: a plot that is zoomed asks for the same one
// again.

#include <cstddef>
#include <list>
#include <memory>
#include <mutex>
#include <string>

#include "work/run_samples.hpp"

namespace ebbtide::server {

/// Thread safe. A run's id is made of its samples, so what is held never grows old. Memory: `at_most_bytes`,
/// or one run that is larger.
class HeldRuns {
  public:
    explicit HeldRuns(std::size_t at_most_bytes = std::size_t{768} << 20) : at_most_bytes_(at_most_bytes) {}

    /// As its order has it measured; arguments and errors: those of work::traced_run(). Null: no such run.
    [[nodiscard]] Result<std::shared_ptr<const work::TracedRun>> traced(const work::OrderFiles& files,
                                                                        const record::OrderRecord& documents,
                                                                        const std::string& run,
                                                                        const decay::Figures* known);

  private:
    std::size_t at_most_bytes_;
    std::mutex mutex_;
    std::mutex reading_;  // one large recording at a time
    std::list<std::pair<std::string, std::shared_ptr<const work::TracedRun>>> runs_;  // the last first
};

}  // namespace ebbtide::server
