// Shipped methods and specifications.

#include <fmt/format.h>

#include <map>

#include "basis/number_text.hpp"
#include "paperwork/paperwork.hpp"
#include "record/json.hpp"
#include "server/handlers.hpp"
#include "work/order_files.hpp"

namespace ebbtide::server {
namespace {

using nlohmann::json;
using paperwork::Shipped;

std::string tolerance_words(const plan::Tolerance& one, const char* unit) {
    return one.plus_minus > 0
               ? fmt::format("{} ± {} {}", shortest_text(one.nominal), shortest_text(one.plus_minus), unit)
               : fmt::format("{} {}", shortest_text(one.nominal), unit);
}

std::string conditioning_words(const plan::Conditioning& asked) {
    std::string text;
    const auto add = [&](const std::string& part) { text += (text.empty() ? "" : ", ") + part; };
    if (asked.relative_humidity_percent) add(tolerance_words(*asked.relative_humidity_percent, "% RH"));
    if (asked.temperature_C) add(tolerance_words(*asked.temperature_C, "°C"));
    if (asked.at_least_h) add(fmt::format("at least {} h", shortest_text(*asked.at_least_h)));
    if (asked.at_most_h) add(fmt::format("at most {} h", shortest_text(*asked.at_most_h)));
    return text;
}

std::vector<std::string> summary_of(const plan::Method& method) {
    std::vector<std::string> out;
    if (const std::string air = conditioning_words(method.conditioning); !air.empty())
        out.push_back("Conditioning: " + air + ".");
    if (method.charging.voltage_V) {
        std::string text = "Charged to " + tolerance_words(*method.charging.voltage_V, "V");
        if (method.charging.polarities == "both") text += ", both polarities";
        if (method.charging.polarities == "positive" || method.charging.polarities == "negative")
            text += ", " + method.charging.polarities;
        if (method.charging.hold_s)
            text += fmt::format(", held for {} s", shortest_text(*method.charging.hold_s));
        out.push_back(text + ".");
    }
    std::string levels;
    for (const plan::Level& level : method.decay.levels)
        levels += (levels.empty() ? "" : ", ") + level.label();
    if (!levels.empty()) out.push_back("Decay times to " + levels + " of the initial voltage.");
    out.push_back(fmt::format("{} {}, {} {} a setting.", method.specimens,
                              method.specimens == 1 ? "specimen" : "specimens", method.replicates,
                              method.replicates == 1 ? "run" : "runs"));
    return out;
}

std::vector<std::string> summary_of(const plan::Specification& specification) {
    std::vector<std::string> out;
    for (const plan::Demand& demand : specification.demands) {
        std::string text;
        for (const plan::Requirement& one : demand.any_of)
            text += (text.empty() ? "" : ", or ") + plan::sentence(one);
        out.push_back(text + ".");
    }
    return out;
}

/// Keys of the orders that cite each document.
std::map<std::string, std::vector<std::string>> cited_by(const Desk& desk) {
    std::map<std::string, std::vector<std::string>> out;
    const auto folders = order_folders(desk.folder);
    if (!folders) return out;
    for (const OrderFolder& at : *folders) {
        const auto text = work::folder_files(at.folder)->text("order.toml");
        if (!text) continue;
        const auto order = paperwork::parse_order(*text, "order.toml");
        if (!order) continue;
        out[order->method.file].push_back(at.key);
        out[order->specification.file].push_back(at.key);
    }
    return out;
}

template <class Document>
json entry_of(const Shipped& one, const Document& document, std::vector<std::string> orders) {
    return {{"id", one.id},
            {"edition", document.edition},
            {"title", document.title},
            {"source", document.source},
            {"notice", document.notice},
            {"kind", one.kind == Shipped::Kind::method ? "method" : "specification"},
            {"apparatus", plan::name_of(document.apparatus)},
            {"apparatus_words", plan::in_words(document.apparatus)},
            {"summary", summary_of(document)},
            {"orders", std::move(orders)}};
}

/// The entry of the list, and the document as understood. Shipped documents parse: a test sees to that.
std::pair<json, json> shown(const Shipped& one, std::vector<std::string> orders) {
    if (one.kind == Shipped::Kind::method) {
        const auto method = paperwork::parse_method(one.toml, one.id);
        return {entry_of(one, *method, std::move(orders)), record::json_of(*method)};
    }
    const auto specification = paperwork::parse_specification(one.toml, one.id);
    return {entry_of(one, *specification, std::move(orders)), record::json_of(*specification)};
}

Reply list_of(const Call& call, Shipped::Kind kind) {
    const auto cited = cited_by(call.desk);
    json documents = json::array();
    for (const Shipped& one : paperwork::shipped()) {
        if (one.kind != kind) continue;
        const auto orders = cited.find(one.id);
        documents.push_back(
            shown(one, orders == cited.end() ? std::vector<std::string>{} : orders->second).first);
    }
    return json_reply({{"schema", "ebbtide.page-documents/1"}, {"documents", std::move(documents)}});
}

Reply one_of(const Call& call, Shipped::Kind kind) {
    for (const Shipped& one : paperwork::shipped()) {
        if (one.kind != kind || one.id != call.names.at(0)) continue;
        auto cited = cited_by(call.desk);
        auto [entry, understood] = shown(one, cited[one.id]);
        return json_reply({{"schema", "ebbtide.page-document/1"},
                           {"document", std::move(entry)},
                           {"understood", std::move(understood)},
                           {"toml", one.toml}});
    }
    return not_found(
        {Fault::bad_input, "no such document is shipped", "id", "The list names those that there are"});
}

}  // namespace

Reply list_methods(const Call& call) {
    return list_of(call, Shipped::Kind::method);
}
Reply show_method(const Call& call) {
    return one_of(call, Shipped::Kind::method);
}
Reply list_specifications(const Call& call) {
    return list_of(call, Shipped::Kind::specification);
}
Reply show_specification(const Call& call) {
    return one_of(call, Shipped::Kind::specification);
}

}  // namespace ebbtide::server
