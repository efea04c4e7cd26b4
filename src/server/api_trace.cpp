// The samples of a run, thinned to the window that is looked at, and its law.

#include <algorithm>

#include "record/json.hpp"
#include "report/law_words.hpp"
#include "server/handlers.hpp"
#include "server/order_json.hpp"
#include "work/order_at_hand.hpp"
#include "work/order_documents.hpp"
#include "work/trace_window.hpp"

namespace ebbtide::server {
namespace {

using nlohmann::json;

/// Seconds from the release; volts = sign * (sensed - base).
json window_json(const work::TraceWindow& window, double release_s, double sign, double base_V) {
    std::vector<double> time_s(window.time_s), volts_V(window.value);
    for (double& time : time_s) time -= release_s;
    for (double& volts : volts_V) volts = sign * (volts - base_V);
    return {{"time_s", std::move(time_s)}, {"volts_V", std::move(volts_V)}};
}

/// V the voltage after zero and sign, t the time from the release.
const char* formula_of(decay::LawKind kind) {
    switch (kind) {
        case decay::LawKind::exponential:
            return "V = A exp(−t/T)";
        case decay::LawKind::two_exponentials:
            return "V = A₁ exp(−t/T₁) + A₂ exp(−t/T₂)";
        case decay::LawKind::three_exponentials:
            return "V = A₁ exp(−t/T₁) + A₂ exp(−t/T₂) + A₃ exp(−t/T₃)";
        case decay::LawKind::stretched:
            return "V = A exp(−(t/T)^b)";
        case decay::LawKind::power:
            return "V = A (1 + t/T)^(−q)";
        case decay::LawKind::backed_sheet:
            return "V = A Σ aₖ exp(−rₖ t/T), the modes of a backed sheet";
        case decay::LawKind::hanging_sheet:
            return "V = A Σ aₖ exp(−rₖ t/T), the modes of a sheet in this fixture";
    }
    return "";
}

json crossings(const decay::Figures& figures) {
    json levels = json::array();
    for (const decay::LevelFigure& level : figures.levels) levels.push_back(crossing_json(level));
    return levels;
}

/// Of a run of a judged order.
const decay::Figures* figures_in(const KeptJudgement* judged, const std::string& run) {
    if (judged)
        for (const judge::JudgedRun& one : judged->order.record.judgement.runs)
            if (one.run_id == run && one.figures) return &*one.figures;
    return nullptr;
}

/// How uncertain they are only a judgement knows: the air, the clamping and the other runs have their part.
json crossings_of(const decay::Figures& measured, const decay::Figures* judged) {
    if (judged) return crossings(*judged);
    json levels = crossings(measured);
    for (json& level : levels) level["u_decay_s"] = nullptr;
    return levels;
}

}  // namespace

Reply run_trace(const Call& call) {
    const auto order = order_named(call);
    if (!order) return order.instead;
    const auto files = work::files_at_hand(order->folder);
    if (!files) return conflict(files.error());
    record::OrderRecord documents;
    if (const auto read = work::read_documents(**files, {}, documents); !read) return conflict(read.error());
    // A picture does not wait for a judgement; one that is there says where the run lies.
    const auto judged = call.held.judged.known(order->folder, {});
    if (judged) documents.recordings = judged->order.record.recordings;
    const std::string& id = call.names.at(1);
    const decay::Figures* known = figures_in(judged.get(), id);
    const auto held = call.held.runs.traced(**files, documents, id, known);
    if (!held) return conflict(held.error());
    if (!*held) return no_such_run(id);
    const work::RunSamples& run = (*held)->samples;
    const decay::Figures& figures = (*held)->figures;
    const trace::Samples specimen = run.specimen.view();
    const double begins_s = specimen.time_s.front() - figures.release_s,
                 ends_s = specimen.time_s.back() - figures.release_s;
    const auto from_s = call.number("from_s", begins_s, -1e12, 1e12),
               to_s = call.number("to_s", ends_s, -1e12, 1e12),
               columns = call.number("columns", 1000, 1, 20000);
    for (const auto* asked : {&from_s, &to_s, &columns})
        if (!*asked) return refused(asked->error());
    if (!(*from_s <= *to_s))
        return refused("the window ends before it begins", "to_s", "Send from_s <= to_s");
    // The recording's own times at the very ends: a sample is not lost to a difference.
    const double first_s = *from_s <= begins_s ? specimen.time_s.front() : *from_s + figures.release_s,
                 last_s = *to_s >= ends_s ? specimen.time_s.back() : *to_s + figures.release_s;
    const auto width = static_cast<std::size_t>(*columns);
    const work::TraceWindow window =
        work::trace_window(specimen, run.specimen_extremes, first_s, last_s, width);
    json electrode;
    if (run.electrode)
        electrode = window_json(
            work::trace_window(run.electrode->view(), run.electrode_extremes, first_s, last_s, width),
            figures.release_s, run.sign, run.electrode_base_V);
    return json_reply({{"schema", "ebbtide.page-trace/1"},
                       {"run", id},
                       {"samples", specimen.size()},
                       {"in_window", window.in_window},
                       {"thinned", window.thinned},
                       {"begins_s", begins_s},
                       {"ends_s", ends_s},
                       {"from_s", *from_s},
                       {"to_s", *to_s},
                       {"release_s", figures.release_s},
                       {"zero_V", figures.zero_V},
                       {"sign", run.sign},
                       {"specimen", window_json(window, figures.release_s, run.sign, figures.zero_V)},
                       {"electrode", std::move(electrode)},
                       {"levels", crossings_of(figures, known)}});
}

Reply run_fit(const Call& call) {
    const auto at = run_named(call);
    if (!at) return at.instead;
    const decay::Figures& figures = *at->run().figures;
    json law, time_s = json::array(), law_V = json::array(), laws = json::array();
    if (figures.law) {
        law = record::json_of(*figures.law);
        for (const decay::LawPoint& point : figures.law->curve) {
            time_s.push_back(point.time_s);
            law_V.push_back(point.law_V);
        }
        for (std::size_t i = 0; i < figures.law->candidates.size(); ++i) {
            const decay::LawCandidate& candidate = figures.law->candidates[i];
            laws.push_back(
                {{"name", decay::name_of(candidate.kind)},
                 {"formula", formula_of(candidate.kind)},
                 {"words", report::words_for(candidate.kind)},
                 {"chosen", figures.law->chosen == i},
                 {"told", candidate.parameters.empty() ? candidate.reason : report::shape_text(candidate)}});
        }
    }
    return json_reply({{"schema", "ebbtide.page-fit/1"},
                       {"run", at->run().run_id},
                       {"law", std::move(law)},
                       {"curve", {{"time_s", std::move(time_s)}, {"law_V", std::move(law_V)}}},
                       {"levels", crossings(figures)},
                       {"laws", std::move(laws)}});
}

}  // namespace ebbtide::server
