#include "work/measure.hpp"

#include "work/measuring.hpp"

namespace ebbtide::work {

plan::DecayRules usual_rules() {
    plan::DecayRules rules;
    for (const char* level : {"0.5", "1/e", "0.1"}) rules.levels.push_back(*plan::parse_level(level));
    return rules;
}

Result<MeasuredFile> measure(recording::Source& source, const MeasureRequest& request, const RunSeen& seen,
                             const RunKept& keep) {
    Measuring measuring(source, request, seen, keep);
    if (auto unfit = measuring.unfit()) return *unfit;
    recording::Block block;
    for (;;) {
        const auto more = source.next(block);
        if (!more) return more.error();
        if (!*more) break;
        if (const auto taken = measuring.take(block); !taken) return taken.error();
    }
    if (const auto ended = measuring.end(); !ended) return ended.error();
    return measuring.finish(source);
}

}  // namespace ebbtide::work
