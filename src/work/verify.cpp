#include "work/verify.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "basis/sha256.hpp"
#include "record/json.hpp"
#include "work/judge_order.hpp"
#include "work/law_agreement.hpp"
#include "work/retention.hpp"

namespace ebbtide::work {
namespace {

using nlohmann::json;

constexpr double agreement = 1e-9;

bool same_number(double a, double b) {
    return a == b || std::abs(a - b) <= agreement * std::max(std::abs(a), std::abs(b));
}

json member(const json& object, const char* key) {
    return object.is_object() && object.contains(key) ? object[key] : json();
}

void compare(const json& was, const json& is, const std::string& place, std::vector<std::string>& differences,
             std::size_t& compared) {
    if (was.is_object() && is.is_object()) {
        for (const auto& [key, value] : was.items()) {
            if (is.contains(key))
                compare(value, key == "law" ? settled_law(value, is[key]) : is[key], place + "/" + key,
                        differences, compared);
            else
                differences.push_back(fmt::format("{}/{}: no longer there", place, key));
        }
        for (const auto& [key, value] : is.items())
            if (!was.contains(key)) differences.push_back(fmt::format("{}/{}: was not there", place, key));
        return;
    }
    if (was.is_array() && is.is_array()) {
        if (was.size() != is.size())
            differences.push_back(fmt::format("{}: had {} entries, has {}", place, was.size(), is.size()));
        for (std::size_t i = 0; i < std::min(was.size(), is.size()); ++i)
            compare(was[i], is[i], fmt::format("{}/{}", place, i), differences, compared);
        return;
    }
    ++compared;
    const bool same =
        was.is_number() && is.is_number() ? same_number(was.get<double>(), is.get<double>()) : was == is;
    const auto text = [](const json& value) {
        return value.dump(-1, ' ', false, json::error_handler_t::replace);
    };
    if (!same) differences.push_back(fmt::format("{}: was {}, is {}", place, text(was), text(is)));
}

Error not_ours(std::string what) {
    return {Fault::bad_input, std::move(what), "report", "Give a PDF report written by this program"};
}

/// What was asked of the runs when the record was made.
Depth depth_of(const json& was) {
    Depth depth;
    const json runs = member(member(was, "judgement"), "runs");
    for (const json& run : runs) {
        const json figures = member(run, "figures");
        if (!member(figures, "law").is_null()) depth.laws = true;
        for (const json& level : member(figures, "levels"))
            if (!member(level, "monte_carlo").is_null()) depth.monte_carlo = true;
    }
    return depth;
}

Result<JudgedOrder> judged_again(const OrderFiles& files, const plan::Terms& terms, bool with_replaced,
                                 Depth depth) {
    if (with_replaced) return judge_order(files, Instant{}, {}, terms, {}, depth);
    auto measured = measure_order(files, Instant{}, {}, terms, {}, depth);
    if (!measured) return measured.error();
    return judged_under(std::move(measured).value(), terms);
}

/// The replaced report is not at hand: what was found by comparing with it stands as it is.
void keep_comparison(const json& was, json& is) {
    is["amended"] = member(was, "amended");
    for (const json& input : was["inputs"])
        if (member(input, "role") == "replaced_report") is["inputs"].push_back(input);
}

}  // namespace

std::vector<std::string> differences_of(const json& was, const json& is, std::size_t& compared) {
    std::vector<std::string> differences;
    compare(was, is, "", differences, compared);
    return differences;
}

Result<Verification> verify(const std::string& pdf_bytes) {
    auto attachments = report::attachments_of_pdf(pdf_bytes);
    if (!attachments) return attachments.error();
    const auto kept = std::ranges::find(*attachments, "record.json", &report::Attachment::name);
    if (kept == attachments->end()) return not_ours("no record.json is attached");
    const json was = json::parse(kept->bytes, nullptr, false);
    if (!was.is_object() || !was.contains("schema") || was["schema"] != "ebbtide.record/1")
        return not_ours("record.json is no record of a judged order");

    Verification result;
    for (const char* key : {"order", "inputs", "judgement", "recordings", "settings_hash"})
        if (!was.contains(key)) return not_ours(fmt::format("record.json lacks '{}'", key));
    // A record that was changed may hold anything anywhere: it is a difference then, further down.
    if (const json id = member(was["order"], "id"); id.is_string()) result.order = id;
    if (const json revision = member(was["order"], "revision"); revision.is_number_integer())
        result.revision = revision;

    if (!was["inputs"].is_array()) return not_ours("record.json: 'inputs' is no list");
    for (const json& input : was["inputs"]) {
        if (!input.is_object() || !input.contains("name") || !input["name"].is_string() ||
            !input.contains("sha256"))
            return not_ours("record.json: an input has no name or hash");
        const std::string name = input["name"];
        const auto file = std::ranges::find(*attachments, name, &report::Attachment::name);
        if (file == attachments->end() &&
            std::ranges::find(*attachments, kept_runs_name(name), &report::Attachment::name) !=
                attachments->end()) {
            result.kept_by_runs.push_back(name);  // its hash is compared further down, as its runs state it
            continue;
        }
        if (file == attachments->end()) {
            if (member(input, "role") == "replaced_report") {
                result.replaced_not_attached = name;
                continue;
            }
            result.not_attached.push_back(name);
            continue;
        }
        ++result.figures_compared;
        if (const std::string hash = sha256_hex(file->bytes); input["sha256"] != hash)
            result.differences.push_back(
                fmt::format("{}: its SHA-256 is {}, the record says {}", name, hash, input["sha256"].dump()));
    }
    if (!result.not_attached.empty()) return result;

    const auto terms = record::terms_of(member(was, "terms"));
    if (!terms) {
        result.differences.push_back("/terms: " + terms.error().what);
        return result;
    }
    const auto files = attached_files(std::move(*attachments));
    auto judged = judged_again(*files, *terms, result.replaced_not_attached.empty(), depth_of(was));
    if (!judged) {
        result.differences.push_back(
            fmt::format("the attached files can no longer be judged: {}", judged.error().text()));
        return result;
    }
    json is = record::json_of(judged->record);
    if (!result.replaced_not_attached.empty()) keep_comparison(was, is);
    // When it was made and by which version is not a figure.
    for (const char* key : {"made", "engine_version"}) is[key] = was.contains(key) ? was[key] : json();
    auto found = differences_of(was, is, result.figures_compared);
    result.differences.insert(result.differences.end(), found.begin(), found.end());
    return result;
}

}  // namespace ebbtide::work
