#include "work/intake.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <optional>
#include <regex>

#include "ledger/durable_file.hpp"
#include "paperwork/paperwork.hpp"
#include "work/live_order.hpp"
#include "work/order_documents.hpp"
#include "work/order_text.hpp"

namespace ebbtide::work {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t longest_key = 64;

bool is_of_a_key(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' ||
           c == '_' || c == '.';
}

std::string key_of(const std::string& id) {
    std::string key;
    for (const char c : id.substr(0, longest_key)) key += is_of_a_key(c) ? c : '-';
    if (!key.empty() && key.front() == '.') key.front() = '-';
    return key;
}

/// Gives the citation the edition of the shipped document, where it has none. Error: it is of no shipped one.
std::optional<Error> complete(plan::Citation& citation, paperwork::Shipped::Kind kind) {
    const bool is_method = kind == paperwork::Shipped::Kind::method;
    const auto& shipped = paperwork::shipped();
    const auto found = std::ranges::find_if(
        shipped, [&](const auto& one) { return one.kind == kind && one.id == citation.file; });
    if (found == shipped.end())
        return Error{Fault::bad_input,
                     fmt::format("no {} '{}' is shipped", is_method ? "method" : "specification",
                                 citation.file.substr(0, 80)),
                     is_method ? "method.file" : "specification.file",
                     "Cite a shipped one; one of your own is laid into the order's folder later"};
    if (!citation.edition.empty()) return {};
    if (is_method) {
        if (const auto method = paperwork::parse_method(found->toml, found->id))
            citation.edition = method->edition;
    } else if (const auto document = paperwork::parse_specification(found->toml, found->id)) {
        citation.edition = document->edition;
    }
    return {};
}

/// Lines of a file that is not there yet help nobody: what is wrong names its key.
Error without_lines(Error error) {
    for (std::string* text : {&error.what, &error.where})
        *text = std::regex_replace(*text, std::regex("order\\.toml(:[0-9]+)?"), "order");
    return error;
}

Result<Done> write_folder(const std::string& part, const std::vector<report::Attachment>& files) {
    std::error_code fault;
    fs::remove_all(part, fault);  // of an intake that a loss of power broke off
    if (!fs::create_directory(part, fault))
        return Error{Fault::unreadable, "cannot be made: " + fault.message(), part,
                     "Check that the folder of the orders is writable and not full"};
    for (const report::Attachment& file : files)
        if (auto written = ledger::write_new_file(part + "/" + file.name, file.bytes); !written)
            return written;
    return Done{};
}

}  // namespace

bool is_key(const std::string& text) {
    return !text.empty() && text.size() <= longest_key && text.front() != '.' &&
           std::ranges::all_of(text, is_of_a_key);
}

Result<TakenIn> take_in(const std::string& folder, Intake intake) {
    plan::Order& order = intake.order;
    const std::string key = intake.key.empty() ? key_of(order.id) : intake.key;
    if (!is_key(key))
        return Error{Fault::bad_input, "this is no name of a folder for an order", "key",
                     "Use letters, digits, '-', '_' and '.', at most 64, not beginning with '.'"};
    if (auto unknown = complete(order.method, paperwork::Shipped::Kind::method)) return *unknown;
    if (auto unknown = complete(order.specification, paperwork::Shipped::Kind::specification))
        return *unknown;
    order.live_file = "live.toml";
    order.bench_file = intake.bench.empty() ? "" : "bench.toml";
    std::vector<report::Attachment> files{{"order.toml", "", "", order_text(order)},
                                          {"live.toml", "", "", empty_live_text(order.id)}};
    if (!intake.bench.empty()) files.push_back({"bench.toml", "", "", std::move(intake.bench)});
    record::OrderRecord documents;
    if (const auto read = read_documents(*attached_files(files), {}, documents); !read)
        return without_lines(read.error());

    TakenIn out{key, folder + "/" + key, {}};
    const std::string part = folder + "/." + key + ".part";
    if (auto is_new = ledger::must_be_new(out.folder); !is_new)
        return Error{Fault::bad_input, fmt::format("there is an order '{}' already", key), "key",
                     "Choose another name; nothing is overwritten"};
    auto made = write_folder(part, files);
    if (made) made = ledger::give_name(part, out.folder);
    if (!made) {
        std::error_code none;
        fs::remove_all(part, none);
        return made.error();
    }
    for (const report::Attachment& file : files) out.files.push_back(file.name);
    return out;
}

}  // namespace ebbtide::work
