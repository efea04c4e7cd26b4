#include "server/held_runs.hpp"

#include <malloc.h>

namespace ebbtide::server {

Result<std::shared_ptr<const work::RunSamples>> HeldRuns::samples(const work::OrderFiles& files,
                                                                  const record::OrderRecord& record,
                                                                  const std::string& run) {
    // The same samples under another gain are other volts.
    const std::string name = run + record.settings_hash;
    const auto held = [&]() -> std::shared_ptr<const work::RunSamples> {
        const std::lock_guard lock(mutex_);
        for (auto it = runs_.begin(); it != runs_.end(); ++it)
            if (it->first == name) {
                runs_.splice(runs_.begin(), runs_, it);
                return runs_.front().second;
            }
        return {};
    };
    if (auto found = held()) return found;
    const std::lock_guard reading(reading_);
    if (auto found = held()) return found;
    auto read = work::run_samples(files, record, run);
    if (!read) return read.error();
    auto samples = std::make_shared<const work::RunSamples>(std::move(read).value());
    const std::lock_guard lock(mutex_);
    runs_.emplace_front(name, samples);
    std::size_t bytes = 0;
    for (auto it = runs_.begin(); it != runs_.end();) {
        bytes += it->second->bytes();
        it = it != runs_.begin() && bytes > at_most_bytes_ ? runs_.erase(it) : std::next(it);
    }
    ::malloc_trim(0);  // what reading took is given back
    return samples;
}

}  // namespace ebbtide::server
