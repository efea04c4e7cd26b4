#include "server/fields.hpp"

#include <fmt/format.h>

#include <cmath>

namespace ebbtide::server {

using nlohmann::json;

Fields::Fields(const Request& request) : shared_(std::make_shared<Shared>()), object_(&shared_->body) {
    shared_->body = json::parse(request.body, nullptr, false);
    if (!shared_->body.is_object()) {
        shared_->body = json::object();
        shared_->first = Error{Fault::bad_input, "the body is no JSON object", "body",
                               "Send an object as application/json, in UTF-8"};
    }
    shared_->objects.emplace_back("", object_);
}

Fields::Fields(std::shared_ptr<Shared> shared, const json* object, std::string place)
    : shared_(std::move(shared)), object_(object), place_(std::move(place)) {
    shared_->objects.emplace_back(place_, object_);
}

std::string Fields::name(const char* key) const {
    return place_ + key;
}

const json* Fields::find(const char* key) {
    shared_->asked.insert(name(key));
    const auto found = object_->find(key);
    return found == object_->end() || found->is_null() ? nullptr : &*found;
}

void Fields::refuse(const std::string& what, const char* key, const std::string& remedy) {
    if (!shared_->first) shared_->first = Error{Fault::bad_input, what, name(key), remedy};
}

bool Fields::has(const char* key) {
    return find(key) != nullptr;
}

std::string Fields::text(const char* key) {
    std::string value = text_or(key);
    if (value.empty()) refuse(fmt::format("'{}' is missing", name(key)), key, "Send it as a text");
    return value;
}

std::string Fields::text_or(const char* key, std::string otherwise) {
    const json* value = find(key);
    if (value == nullptr) return otherwise;
    if (value->is_string()) return value->get<std::string>();
    refuse(fmt::format("'{}' is no text", name(key)), key, "Send it in quotation marks");
    return otherwise;
}

std::vector<std::string> Fields::texts(const char* key) {
    const json* list = find(key);
    if (list == nullptr) return {};
    std::vector<std::string> out;
    if (list->is_array())
        for (const json& one : *list)
            if (one.is_string()) out.push_back(one.get<std::string>());
    if (!list->is_array() || out.size() != list->size())
        refuse(fmt::format("'{}' is no list of texts", name(key)), key, "Send it as one");
    return out;
}

std::optional<double> Fields::number(const char* key) {
    const json* value = find(key);
    if (value == nullptr) return {};
    if (value->is_number() && std::isfinite(value->get<double>())) return value->get<double>();
    refuse(fmt::format("'{}' is no number", name(key)), key, "Send it without quotation marks");
    return {};
}

std::optional<std::size_t> Fields::index(const char* key) {
    const auto value = number(key);
    if (!value) return {};
    if (*value >= 0 && *value <= 1e9 && *value == std::floor(*value)) return static_cast<std::size_t>(*value);
    refuse(fmt::format("'{}' counts from 0", name(key)), key, "Send a whole number");
    return {};
}

bool Fields::truth_or(const char* key, bool otherwise) {
    const json* value = find(key);
    if (value == nullptr) return otherwise;
    if (value->is_boolean()) return value->get<bool>();
    refuse(fmt::format("'{}' is neither true nor false", name(key)), key, "Send one of the two");
    return otherwise;
}

std::optional<Date> Fields::date(const char* key) {
    const std::string text = text_or(key);
    if (text.empty()) return {};
    const auto parsed = parse_date(text);
    if (parsed) return *parsed;
    refuse(parsed.error().what, key, parsed.error().remedy);
    return {};
}

std::optional<Instant> Fields::instant(const char* key) {
    const std::string text = text_or(key);
    if (text.empty()) return {};
    const auto parsed = parse_instant(text);
    if (parsed) return *parsed;
    refuse(parsed.error().what, key, parsed.error().remedy);
    return {};
}

Fields Fields::object(const char* key) {
    static const json nothing = json::object();
    const json* value = find(key);
    if (value != nullptr && !value->is_object()) {
        refuse(fmt::format("'{}' is no object", name(key)), key, "Send it in braces");
        value = nullptr;
    }
    return {shared_, value ? value : &nothing, name(key) + "."};
}

std::vector<Fields> Fields::objects(const char* key) {
    const json* list = find(key);
    std::vector<Fields> out;
    if (list == nullptr) return out;
    const bool right = list->is_array() && list->size() <= 100'000;
    for (std::size_t i = 0; right && i < list->size(); ++i)
        if ((*list)[i].is_object())
            out.push_back({shared_, &(*list)[i], fmt::format("{}[{}].", name(key), i)});
    if (!right || out.size() != list->size())
        refuse(fmt::format("'{}' is no list of objects", name(key)), key, "Send it as one");
    return out;
}

std::optional<Error> Fields::problem() const {
    if (shared_->first) return shared_->first;
    for (const auto& [place, object] : shared_->objects)
        for (const auto& [key, value] : object->items())
            if (const std::string whole = place + key; !shared_->asked.contains(whole))
                return Error{Fault::bad_input, fmt::format("unknown key '{}'", whole.substr(0, 80)),
                             whole.substr(0, 80), "docs/formats/page.md lists the keys"};
    return {};
}

}  // namespace ebbtide::server
