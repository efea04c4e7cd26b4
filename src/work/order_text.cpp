#include "work/order_text.hpp"

#include <fmt/format.h>

#include "basis/number_text.hpp"
#include "work/toml_text.hpp"

namespace ebbtide::work {
namespace {

/// Lines of one file; what is empty or absent is left out.
class OrderLines {
  public:
    void table(const std::string& heading) { text_ += "\n" + heading + "\n"; }
    void text(const char* key, const std::string& value) {
        if (!value.empty()) line(key, toml_text(value));
    }
    void number(const char* key, const std::optional<double>& value) {
        if (value) line(key, toml_number(*value));
    }
    void date(const char* key, const std::optional<Date>& value) {
        if (value) line(key, iso_text(*value));
    }
    void instant(const char* key, const std::optional<Instant>& value) {
        if (value) line(key, iso_text(*value));
    }
    void texts(const char* key, const std::vector<std::string>& values) {
        if (values.empty()) return;
        std::string list;
        for (const std::string& value : values) list += (list.empty() ? "" : ", ") + toml_text(value);
        line(key, "[" + list + "]");
    }
    void line(const char* key, const std::string& value) { text_ += fmt::format("{} = {}\n", key, value); }
    [[nodiscard]] std::string take() && { return std::move(text_); }

    /// A whole number is a number too.
    static std::string toml_number(double value) { return shortest_text(value); }

  private:
    std::string text_;
};

void add_party(OrderLines& lines, const char* heading, const plan::Party& party) {
    lines.table(heading);
    lines.text("name", party.name);
    lines.text("address", party.address);
    lines.text("contact", party.contact);
}

void add_citation(OrderLines& lines, const char* heading, const plan::Citation& citation) {
    lines.table(heading);
    lines.text("file", citation.file);
    lines.text("edition", citation.edition);
}

void add_rule(OrderLines& lines, const plan::DecisionRule& rule) {
    lines.table("[decision_rule]");
    lines.text("kind", std::string(plan::name_of(rule.kind)));
    if (rule.kind == plan::DecisionRule::Kind::guarded) {
        if (rule.guard_s)
            lines.number("guard_s", rule.guard_s);
        else
            lines.number("guard_times_U", rule.guard_times_U);
    }
    lines.text("agreed", rule.agreed);
    for (const plan::History& one : rule.history) {
        lines.table("[[decision_rule.history]]");
        lines.text("requirement", one.requirement);
        lines.number("mean_s", one.mean_s);
        lines.number("standard_deviation_s", one.standard_deviation_s);
        lines.text("source", one.source);
    }
}

void add_item(OrderLines& lines, const plan::Item& item) {
    lines.table("[[item]]");
    lines.text("id", item.id);
    lines.text("description", item.description);
    lines.text("lot", item.lot);
    lines.text("supplier", item.supplier);
    lines.text("condition_on_receipt", item.condition_on_receipt);
    const plan::Sensitivity& steep = item.sensitivity;
    std::string inner;
    const auto add = [&](const char* key, const std::string& value) {
        inner += fmt::format("{}{} = {}", inner.empty() ? "" : ", ", key, value);
    };
    if (steep.humidity_percent_per_decade)
        add("humidity_percent_per_decade", OrderLines::toml_number(*steep.humidity_percent_per_decade));
    if (steep.temperature_C_per_decade)
        add("temperature_C_per_decade", OrderLines::toml_number(*steep.temperature_C_per_decade));
    if (!steep.source.empty()) add("source", toml_text(steep.source));
    if (!inner.empty()) lines.line("sensitivity", "{ " + inner + " }");
}

void add_conditions(OrderLines& lines, const plan::TestConditions& one) {
    lines.table("[[conditions]]");
    lines.text("id", one.id);
    lines.number("relative_humidity_percent", one.relative_humidity_percent);
    lines.number("temperature_C", one.temperature_C);
    lines.instant("conditioned_from", one.conditioned_from);
    lines.instant("conditioned_to", one.conditioned_to);
}

void add_parts(OrderLines& lines, const plan::Order& order) {
    for (const plan::Item& item : order.items) add_item(lines, item);
    for (const plan::Specimen& specimen : order.specimens) {
        lines.table("[[specimen]]");
        lines.text("id", specimen.id);
        lines.text("item", specimen.item);
        lines.text("direction", specimen.direction);
        lines.text("place", specimen.place);
        lines.text("state", specimen.state);
    }
    for (const plan::TestConditions& one : order.conditions) add_conditions(lines, one);
}

void add_remarks(OrderLines& lines, const plan::Order& order) {
    if (order.deviations.empty() && order.external_providers.empty() && order.opinions.empty()) return;
    lines.table("[remarks]");
    lines.texts("deviations", order.deviations);
    lines.texts("external_providers", order.external_providers);
    lines.texts("opinions", order.opinions);
}

}  // namespace

std::string order_text(const plan::Order& order) {
    OrderLines lines;
    lines.line("schema", "\"ebbtide.order/1\"");
    lines.text("id", order.id);
    lines.text("title", order.title);
    lines.line("revision", std::to_string(order.revision));
    lines.text("bench", order.bench_file);
    lines.text("live", order.live_file);
    add_party(lines, "[laboratory]", order.laboratory);
    lines.text("location", order.laboratory_location);
    add_party(lines, "[customer]", order.customer);
    add_citation(lines, "[method]", order.method);
    add_citation(lines, "[specification]", order.specification);
    add_rule(lines, order.decision_rule);
    lines.table("[dates]");
    lines.date("sampled", order.sampled);
    lines.date("received", order.received);
    lines.date("due", order.due);
    lines.date("tested_from", order.tested_from);
    lines.date("tested_to", order.tested_to);
    lines.date("issued", order.issued);
    lines.table("[people]");
    lines.text("tested_by", order.tested_by);
    lines.text("authorised_by", order.authorised_by);
    lines.text("authorised_role", order.authorised_role);
    if (!order.sampled_by.empty() || !order.sampling_plan.empty()) {
        lines.table("[sampling]");
        lines.text("by", order.sampled_by);
        lines.text("plan", order.sampling_plan);
    }
    add_remarks(lines, order);
    add_parts(lines, order);
    return std::move(lines).take();
}

}  // namespace ebbtide::work
