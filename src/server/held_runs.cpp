#include "server/held_runs.hpp"

#include <malloc.h>

#include "record/json.hpp"

namespace ebbtide::server {

Result<std::shared_ptr<const work::TracedRun>> HeldRuns::traced(const work::OrderFiles& files,
                                                                const record::OrderRecord& documents,
                                                                const std::string& run,
                                                                const decay::Figures* known) {
    // The same samples under another gain are other volts.
    const std::string name = run + record::settings_hash(documents.order, documents.method,
                                                         documents.specification, documents.bench);
    const auto held = [&]() -> std::shared_ptr<const work::TracedRun> {
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
    auto read = work::traced_run(files, documents, run, known);
    if (!read) return read.error();
    if (!*read) return std::shared_ptr<const work::TracedRun>();
    auto traced = std::make_shared<const work::TracedRun>(std::move(**read));
    const std::lock_guard lock(mutex_);
    runs_.emplace_front(name, traced);
    std::size_t bytes = 0;
    for (auto it = runs_.begin(); it != runs_.end();) {
        bytes += it->second->samples.bytes();
        it = it != runs_.begin() && bytes > at_most_bytes_ ? runs_.erase(it) : std::next(it);
    }
    ::malloc_trim(0);  // what reading took is given back
    return traced;
}

}  // namespace ebbtide::server
