#include "work/amendment.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "basis/sha256.hpp"
#include "record/json.hpp"

namespace ebbtide::work {
namespace {

using nlohmann::json;

json at(const json& document, const char* pointer) {
    const json::json_pointer place(pointer);
    return document.contains(place) ? document[place] : json();
}

Error another(const std::string& name, std::string what) {
    return {Fault::bad_input, std::move(what), name,
            "Name under [amendment] the report that this one replaces, with its revision and day of issue"};
}

/// The record of the report that [amendment] names; Error when it is another.
Result<json> replaced_record(const std::string& bytes, const plan::Order& order) {
    const plan::Amendment& amendment = *order.amendment;
    const std::string& name = amendment.replaced_report;
    const auto attachments = report::attachments_of_pdf(bytes);
    if (!attachments) return another(name, attachments.error().what);
    const auto kept = std::ranges::find(*attachments, "record.json", &report::Attachment::name);
    if (kept == attachments->end()) return another(name, "no record.json is attached to it");
    json record = json::parse(kept->bytes, nullptr, false);
    if (!record.is_object() || at(record, "/schema") != "ebbtide.record/1" || !record.contains("judgement"))
        return another(name, "its record.json is no record of a judged order");
    if (at(record, "/order/id") != order.id)
        return another(
            name, fmt::format("it reports order {}, not '{}'", at(record, "/order/id").dump(), order.id));
    if (at(record, "/order/revision") != amendment.replaces_revision)
        return another(name, fmt::format("it is revision {}, [amendment] replaces revision {}",
                                         at(record, "/order/revision").dump(), amendment.replaces_revision));
    const std::string issued = amendment.replaces_issued ? iso_text(*amendment.replaces_issued) : "";
    if (at(record, "/order/issued") != issued)
        return another(name, fmt::format("its day of issue is {}, [amendment] says {}",
                                         at(record, "/order/issued").dump(), issued));
    if (!at(record, "/terms").is_null())
        return another(name,
                       "it was made under other terms than the order's, so it was not the report issued");
    return record;
}

}  // namespace

Result<Done> compare_with_replaced(record::OrderRecord& record, const OrderFiles& files) {
    const auto& amendment = record.order.amendment;
    if (!amendment || amendment->replaced_report.empty() || record.terms.any()) return Done{};
    const auto bytes = files.bytes(amendment->replaced_report, largest_report);
    if (!bytes) return bytes.error();
    const auto was = replaced_record(*bytes, record.order);
    if (!was) return was.error();
    record.amended = differences_in_words(*was, record::json_of(record), amendment->changes);
    record.inputs.push_back(
        {"replaced_report", amendment->replaced_report, sha256_hex(*bytes), bytes->size()});
    return Done{};
}

}  // namespace ebbtide::work
