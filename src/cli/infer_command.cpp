#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "basis/number_text.hpp"
#include "cli/recordings.hpp"
#include "cli/sheet_words.hpp"
#include "record/json.hpp"
#include "work/infer.hpp"

namespace ebbtide::cli {
namespace {

using nlohmann::json;
using sheet::Estimate;
using sheet::Identified;
using sheet::InversionState;

json json_of(const Estimate& estimate) {
    return {{"identified", work::name_of(estimate.identified)},
            {"value", record::finite_or_null(estimate.value)},
            {"low", record::finite_or_null(estimate.low)},
            {"high", record::finite_or_null(estimate.high)}};
}

json json_of(const std::optional<sheet::RingComparison>& rings) {
    if (!rings) return nullptr;
    return {{"ring_ohm_sq", rings->ring_ohm_sq},
            {"ratio", rings->ratio},
            {"low", rings->low},
            {"high", rings->high},
            {"agree", rings->agree},
            {"within_electrodes", rings->within_electrodes}};
}

json json_of(const work::InferredRun& run) {
    const sheet::Inversion& found = run.inversion;
    json out = {{"run", run.run_id},
                {"polarity", plan::sign_of(run.figures.polarity)},
                {"state", work::name_of(found.state)},
                {"reason", found.reason},
                {"told", work::name_of(run.told)},
                {"time_constant_s", json_of(found.time_constant_s)},
                {"resistance_capacitance_s_m2", json_of(run.resistance_capacitance_s_m2)},
                {"surface_resistivity_ohm_sq", json_of(run.resistivity_ohm_sq)},
                {"by_lengths_ohm_sq", record::finite_or_null(run.by_lengths_ohm_sq)},
                {"second", json_of(found.second)},
                {"contact_ohm_m", record::finite_or_null(run.contact_ohm_m)},
                {"field_coefficient", record::finite_or_null(run.field_coefficient)},
                {"operators_differ", record::finite_or_null(run.operators_differ)},
                {"other_residual_ratio", record::finite_or_null(run.other_residual_ratio)},
                {"rings", json_of(run.rings)},
                {"held_V", record::or_null(run.figures.held_V)},
                {"amplitude_V", record::finite_or_null(found.amplitude_V)},
                {"samples", found.points},
                {"effective_samples", record::finite_or_null(found.effective_points)},
                {"budget",
                 {{"noise", record::finite_or_null(found.u_noise)},
                  {"release", record::finite_or_null(found.u_release)},
                  {"lag", record::finite_or_null(found.u_lag)},
                  {"zero", record::finite_or_null(found.u_zero)}}},
                {"flags", json::array()}};
    for (const plan::Flag& flag : run.flags) out["flags"].push_back(record::json_of(flag));
    return out;
}

json json_of(const std::string& name, const Result<work::InferredFile>& file, const work::BenchSheet& sheet) {
    json out = {{"file", name},
                {"operator", nullptr},
                {"capacitance_source", nullptr},
                {"capacitance_F_m2", nullptr},
                {"u_capacitance", nullptr},
                {"caution", nullptr},
                {"runs", json::array()},
                {"flags", json::array()},
                {"error", nullptr}};
    if (!file) {
        const Error& error = file.error();
        out["error"] = {{"what", error.what}, {"where", error.where}, {"remedy", error.remedy}};
        return out;
    }
    out["operator"] = work::name_of(sheet.used);
    out["capacitance_source"] = work::name_of(sheet.source);
    if (sheet.capacitance_F_m2 > 0) out["capacitance_F_m2"] = sheet.capacitance_F_m2;
    out["u_capacitance"] = sheet.u_capacitance;
    out["caution"] = sheet.caution;
    for (const plan::Flag& flag : file->flags) out["flags"].push_back(record::json_of(flag));
    for (const work::InferredRun& run : file->runs) out["runs"].push_back(json_of(run));
    return out;
}

/// "1.02e+11 (95 %: 9.9e+10 to 1.05e+11) ohm", "at most 3.2e+09 ohm".
std::string words_of(const Estimate& estimate, std::string_view unit) {
    switch (estimate.identified) {
        case Identified::free:
            return fmt::format("{}{} (95 %: {} to {})", significant_text(*estimate.value, 4), unit,
                               significant_text(*estimate.low, 4), significant_text(*estimate.high, 4));
        case Identified::bounded_above:
            return fmt::format("at most {}{}", significant_text(*estimate.high, 3), unit);
        case Identified::bounded_below:
            return fmt::format("at least {}{}", significant_text(*estimate.low, 3), unit);
        case Identified::not_asked:
        case Identified::not_determined:
            break;
    }
    return "not determined";
}

std::string state_words(InversionState state) {
    switch (state) {
        case InversionState::took_no_charge:
            return "took no charge: its fall says nothing of its resistivity";
        case InversionState::charge_unproven:
            return "not known to have been charged: no resistivity is told";
        case InversionState::at_most:
            return "too fast for this bench: an upper bound only";
        case InversionState::at_least:
            return "hardly fell: a lower bound only";
        case InversionState::refused:
        case InversionState::not_run:
            return "no answer";
        case InversionState::determined:
            break;
    }
    return "";
}

std::string ring_words(const sheet::RingComparison& rings, bool by_lengths) {
    std::string out = fmt::format("  rings: {} ohm; the fall's over the rings' {} (95 %: {} to {}){}: {}\n",
                                  significant_text(rings.ring_ohm_sq, 3), significant_text(rings.ratio, 3),
                                  significant_text(rings.low, 3), significant_text(rings.high, 3),
                                  by_lengths ? ", c not calibrated" : "", rings.agree ? "agree" : "disagree");
    if (rings.agree) return out;
    if (rings.within_electrodes)
        out +=
            indented(wrapped("Ring electrodes of one standard have differed by 1.8 among themselves on one "
                             "material: that alone may be it.",
                             screen - 4, 0),
                     4);
    for (const char* reason :
         {"Humidity or temperature differ between the two, the commonest of all.",
          "Rings press on one face and send current through the bulk; a fall takes whichever path is "
          "easiest, both "
          "faces and the inside.",
          "Resistivity depends on the field: rings work at some V/mm of their own; compare voltages, or run "
          "infer with "
          "--field.",
          "Contact: clamps that hold badly lengthen the fall (--contact); rings without pressure read high.",
          "The capacitance: a backing nearer than the bench says makes the fall slower."})
        out += indented(wrapped(reason, screen - 4, 2), 4);
    return out;
}

std::string inferred_text(const work::InferredRun& run, sheet::Second second) {
    const sheet::Inversion& found = run.inversion;
    std::string out =
        fmt::format("run {}  {}\n", run.run_id.substr(0, 8), plan::sign_of(run.figures.polarity));
    if (const std::string words = state_words(found.state); !words.empty()) out += "  " + words + "\n";
    if (!found.reason.empty()) out += indented(wrapped(found.reason, screen - 4, 0), 4);
    const bool any = run.told != work::Told::nothing;
    if (any && run.told == work::Told::resistivity)
        out += fmt::format("  surface resistivity  {}\n", words_of(run.resistivity_ohm_sq, " ohm"));
    if (any) {
        out += fmt::format("  {}  {}\n",
                           run.told == work::Told::product ? "only R_s times c    " : "R_s times c         ",
                           words_of(run.resistance_capacitance_s_m2, " s/m2"));
        out += fmt::format("  slowest time constant {}\n", words_of(found.time_constant_s, " s"));
    }
    if (run.by_lengths_ohm_sq)
        out += fmt::format("  with c by the fixture's lengths, not calibrated: R_s some {} ohm\n",
                           significant_text(*run.by_lengths_ohm_sq, 2));
    if (any && second == sheet::Second::contact) {
        out += fmt::format("  contact over R_s gap  {}\n", words_of(found.second, ""));
        if (run.contact_ohm_m)
            out += fmt::format("  each contact          {} ohm m\n", significant_text(*run.contact_ohm_m, 3));
    }
    if (any && second == sheet::Second::field) {
        out += fmt::format("  field exponent        {}\n", words_of(found.second, ""));
        if (run.field_coefficient)
            out += fmt::format("  field coefficient     {} (m/V)^1/2\n",
                               significant_text(*run.field_coefficient, 3));
    }
    if (run.operators_differ) {
        out += fmt::format("  by the other operator the time constant is {} % off",
                           percent_apart(1 + *run.operators_differ));
        if (run.other_residual_ratio)
            out += fmt::format("; it leaves {} times as much over",
                               significant_text(*run.other_residual_ratio, 2));
        out += "\n";
    }
    if (run.rings) out += ring_words(*run.rings, run.told == work::Told::product);
    for (const plan::Flag& flag : run.flags) out += indented(flag_text(flag), 2);
    return out;
}

Result<std::optional<work::RingMeasurement>> rings_of(const InferOptions& options) {
    if (!options.ring_resistance_ohm && options.ring_diameters_mm.empty())
        return std::optional<work::RingMeasurement>{};
    const Error both{Fault::bad_input,
                     "a resistance between rings needs their diameters, and these a resistance",
                     "--ring-resistance", "Give --ring-resistance OHM and --ring-diameters 30.5,57.2"};
    if (!options.ring_resistance_ohm || options.ring_diameters_mm.size() != 2) return both;
    if (!(*options.ring_resistance_ohm > 0 && *options.ring_resistance_ohm <= 1e20) ||
        !(options.u_ring >= 0 && options.u_ring <= 1))
        return Error{Fault::bad_input,
                     "the rings' resistance lies in 0 to 1e20 ohm, its relative uncertainty in 0 to 1",
                     "--ring-resistance", "Give the resistance in ohm, and --u-ring 0.1 for 10 %"};
    const auto rings =
        sheet::ring_electrode(options.ring_diameters_mm[0] / 1000, options.ring_diameters_mm[1] / 1000);
    if (!rings) return rings.error();
    return std::optional(work::RingMeasurement{*rings, *options.ring_resistance_ohm, options.u_ring});
}

}  // namespace

int infer(const InferOptions& options) {
    recording::ReadOptions read = options.read;
    auto measured = measure_request({}, options.bench_file, read);
    if (!measured) return complain(measured.error());
    work::InferRequest request{*std::move(measured), {options.backing_capacitance_F_m2, options.backed}};
    if (options.contact && options.field)
        return complain({Fault::bad_input,
                         "contact and field are asked for at once: one fall cannot tell both", "infer",
                         "Leave --contact or --field away"});
    request.second = options.contact ? sheet::Second::contact
                     : options.field ? sheet::Second::field
                                     : sheet::Second::nothing;
    const auto rings = rings_of(options);
    if (!rings) return complain(rings.error());
    request.rings = *rings;
    const auto model = work::infer_model(request);
    if (!model) return complain(model.error());
    const work::BenchSheet& sheet = model->sheet;
    json files = json::array();
    const int code = over_files<work::InferredFile>(
        files_named(options.files),
        [&](const std::string& name) -> Result<work::InferredFile> {
            auto source = recording::open(name, read);
            if (!source) return source.error();
            return work::infer(**source, request, *model);
        },
        [&](const std::string& name, const Result<work::InferredFile>& file) {
            if (options.json) {
                files.push_back(json_of(name, file, sheet));
                return;
            }
            if (!file) return;
            fmt::print("{}\n{}", name,
                       sheet_words(sheet.used, sheet.source, sheet.u_capacitance, sheet.caution));
            for (const work::InferredRun& run : file->runs)
                fmt::print("{}", inferred_text(run, request.second));
            for (const plan::Flag& flag : file->flags) fmt::print("{}", indented(flag_text(flag), 2));
            fmt::print("\n");
        });
    if (options.json)
        fmt::print("{}",
                   record::canonical_text({{"schema", "ebbtide.infer/1"}, {"files", std::move(files)}}));
    return code;
}

}  // namespace ebbtide::cli
