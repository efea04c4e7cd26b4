#include "work/kept_recording.hpp"

#include <nlohmann/json.hpp>

#include "work/ledger_entries.hpp"

namespace ebbtide::work {
namespace {

using nlohmann::json;

std::optional<double> number_at(const json& document, const char* pointer) {
    const json::json_pointer place(pointer);
    if (!document.contains(place) || !document.at(place).is_number()) return {};
    return document.at(place).get<double>();
}

}  // namespace

recording::ReadOptions kept_read_options(const json& record, const std::string& file) {
    const json none = json::object();
    const json* planned = &none;
    if (const json::json_pointer all("/order/recordings"); record.contains(all) && record.at(all).is_array())
        for (const json& one : record.at(all))
            if (text_at(one, "/file") == file) planned = &one;
    const auto name = [&](const char* of_order, const char* of_bench) {
        const std::string own = text_at(*planned, of_order);
        return own.empty() ? text_at(record, of_bench) : own;
    };
    auto interval_s = number_at(*planned, "/sample_interval_s");
    if (!interval_s) interval_s = number_at(record, "/bench/sample_interval_s");
    return {.specimen = name("/specimen_channel", "/bench/channels/specimen"),
            .electrode = name("/electrode_channel", "/bench/channels/electrode"),
            .marker = name("/marker_channel", "/bench/channels/marker"),
            .time = name("/time_channel", "/bench/channels/time"),
            .sample_interval_s = interval_s,
            .time_unit = ""};
}

}  // namespace ebbtide::work
