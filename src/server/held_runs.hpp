#pragma once
// The samples of the runs that were looked at last: a plot that is zoomed asks for the same run again.

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

    /// Errors: those of work::run_samples().
    [[nodiscard]] Result<std::shared_ptr<const work::RunSamples>> samples(const work::OrderFiles& files,
                                                                          const record::OrderRecord& record,
                                                                          const std::string& run);

  private:
    std::size_t at_most_bytes_;
    std::mutex mutex_;
    std::mutex reading_;  // one large recording at a time
    std::list<std::pair<std::string, std::shared_ptr<const work::RunSamples>>> runs_;  // the last first
};

}  // namespace ebbtide::server
