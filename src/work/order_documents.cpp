#include "work/order_documents.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "basis/sha256.hpp"
#include "judge/apparatus_match.hpp"
#include "paperwork/paperwork.hpp"
#include "work/expand_folders.hpp"

namespace ebbtide::work {
namespace {

template <class T>
struct Document {
    std::string name;
    T value;
};

record::InputFile input_of(std::string role, const std::string& name, const std::string& text) {
    return {std::move(role), name, sha256_hex(text), text.size()};
}

template <class T, class Parse>
Result<Document<T>> cited(const OrderFiles& files, const plan::Citation& citation, const char* role,
                          Parse parse, std::vector<record::InputFile>& inputs) {
    const bool own = is_own(citation.file);
    const std::string name = own ? citation.file : shipped_name(citation.file);
    auto text = own ? files.text(citation.file) : files.shipped_text(citation.file);
    if (!text) return text.error();
    auto parsed = parse(*text, name);
    if (!parsed) return parsed.error();
    if (parsed->edition != citation.edition)
        return Error{Fault::bad_input,
                     fmt::format("the order cites edition '{}' of {}, the file is edition '{}'",
                                 citation.edition, name, parsed->edition),
                     "order.toml", "Agree with the customer which edition applies, then cite that one"};
    inputs.push_back(input_of(role, name, *text));
    return Document<T>{name, std::move(parsed).value()};
}

/// The specification that the terms name instead of the cited one; nothing when they name none.
Result<std::optional<plan::Specification>> other_specification(const OrderFiles& files,
                                                               const plan::Terms& terms,
                                                               record::OrderRecord& record) {
    if (terms.specification.empty()) return std::optional<plan::Specification>();
    const bool own = is_own(terms.specification);
    const std::string name = own ? terms.specification : shipped_name(terms.specification);
    auto text = own ? files.text(name) : files.shipped_text(terms.specification);
    if (!text) return text.error();
    auto parsed = paperwork::parse_specification(*text, name);
    if (!parsed) return parsed.error();
    if (std::ranges::find(record.inputs, name, &record::InputFile::name) == record.inputs.end())
        record.inputs.push_back(input_of("terms", name, *text));
    return std::optional(std::move(parsed).value());
}

}  // namespace

bool is_own(const std::string& cited) {
    return cited.ends_with(".toml");
}

Result<std::optional<plan::Specification>> read_documents(const OrderFiles& files, const plan::Terms& terms,
                                                          record::OrderRecord& record) {
    auto order_text = files.text("order.toml");
    if (!order_text) return order_text.error();
    auto order = paperwork::parse_order(*order_text, "order.toml");
    if (!order) return order.error();
    record.inputs.push_back(input_of("order", "order.toml", *order_text));
    auto method = cited<plan::Method>(files, order->method, "method", paperwork::parse_method, record.inputs);
    if (!method) return method.error();
    auto specification = cited<plan::Specification>(files, order->specification, "specification",
                                                    paperwork::parse_specification, record.inputs);
    if (!specification) return specification.error();
    if (!order->bench_file.empty()) {
        auto bench_text = files.text(order->bench_file);
        if (!bench_text) return bench_text.error();
        auto bench = paperwork::parse_bench(*bench_text, order->bench_file);
        if (!bench) return bench.error();
        record.inputs.push_back(input_of("bench", order->bench_file, *bench_text));
        record.bench = std::move(bench).value();
    }
    record.order = std::move(order).value();
    if (const std::string& live = record.order.live_file; !live.empty()) {
        auto live_text = files.text(live);
        if (!live_text) return live_text.error();
        auto heard = paperwork::parse_live(*live_text, live, record.order);
        if (!heard) return heard.error();
        record.inputs.push_back(input_of("live", live, *live_text));
        for (paperwork::HeardRun& run : *heard) record.order.recordings.push_back(std::move(run.recording));
    }
    if (auto wrong = expand_folders(record.order, files)) return *wrong;
    record.method = std::move(method->value);
    record.specification = std::move(specification->value);
    if (auto conflict = judge::apparatus_conflict(record.method, record.specification, record.bench))
        return *conflict;
    for (const std::string& problem : decay::problems_of(record.method.decay))
        return Error{Fault::bad_input, problem, method->name, "State it in the method"};
    auto other = other_specification(files, terms, record);
    if (!other) return other.error();
    if (*other)
        if (auto conflict = judge::apparatus_conflict(record.method, **other, record.bench)) return *conflict;
    return other;
}

}  // namespace ebbtide::work
