#include "work/live_lines.hpp"

#include <fmt/format.h>

#include "judge/run_flags.hpp"
#include "work/toml_text.hpp"

namespace ebbtide::work {

std::string place_lines(const plan::RunKey& key) {
    return fmt::format("specimen = {}\nface = {}\nconditions = {}\npolarity = \"{}\"\nreplicate = {}\n",
                       toml_text(key.specimen), toml_text(key.face), toml_text(key.conditions),
                       plan::sign_of(key.polarity), key.replicate);
}

judge::JudgedRun judged_at(const MeasuredRun& run, const plan::RunKey& key,
                           const record::OrderRecord& record) {
    judge::JudgedRun judged;
    judged.key = key;
    judged.run_id = run.run_id;
    judged.figures = run.figures;
    judged.flags = run.flags;
    for (plan::Flag& flag : judge::method_flags(run.figures, key, record.order, record.method, record.bench))
        judged.flags.push_back(std::move(flag));
    judge::settle(judged, record.method);
    return judged;
}

}  // namespace ebbtide::work
