#include "server/call.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>

#include "ledger/migrations.hpp"

namespace ebbtide::server {
namespace {

/// What a person sent, short enough to be said back.
std::string said_back(const std::string& text) {
    return text.size() > 80 ? text.substr(0, 80) + "..." : text;
}

}  // namespace

std::string Call::parameter(const std::string& name, const std::string& otherwise) const {
    const auto found = request.query.find(name);
    return found == request.query.end() ? otherwise : found->second;
}

Result<double> Call::number(const std::string& name, double otherwise, double least, double most) const {
    const std::string text = parameter(name);
    if (text.empty()) return otherwise;
    double value = 0;
    const auto [end, fault] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (fault != std::errc() || end != text.data() + text.size() || !std::isfinite(value) || value < least ||
        value > most)
        return Error{Fault::bad_input,
                     fmt::format("'{}' is no number from {} to {}", said_back(text), least, most), name,
                     "Send a plain number"};
    return value;
}

Reply not_found(const Error& error) {
    return error_reply(404, error);
}

Reply conflict(const Error& error) {
    return error_reply(error.code == Fault::internal ? 500 : 409, error);
}

Reply refused(const Error& error) {
    return error_reply(error);
}

Reply refused(const std::string& what, const std::string& where, const std::string& remedy) {
    return error_reply(400, {Fault::bad_input, what, where, remedy});
}

Found<OrderFolder> order_named(const Desk& desk, const std::string& key, const std::string& where) {
    const auto folders = order_folders(desk.folder);
    if (!folders) return {{}, conflict(folders.error())};
    for (const OrderFolder& folder : *folders)
        if (folder.key == key) return {folder};
    return {{},
            not_found({Fault::bad_input, fmt::format("there is no order '{}'", said_back(key)), where,
                       "GET /api/orders lists those that there are"})};
}

Found<OrderFolder> order_named(const Call& call) {
    return order_named(call.desk, call.names.at(0));
}

Found<std::shared_ptr<ledger::Database>> ledger_of(const Call& call) {
    if (call.desk.ledger.empty())
        return {{},
                conflict({Fault::bad_input, "there is no ledger here", "ledger",
                          "Start 'ebbtide serve' with --ledger FILE"})};
    auto opened = ledger::open_ledger(call.desk.ledger, ledger::Database::Access::read);
    if (!opened) return {{}, conflict(opened.error())};
    return {std::make_shared<ledger::Database>(std::move(opened).value())};
}

Found<JudgedCall> judged_named(const Call& call, work::Depth depth) {
    const auto at = order_named(call);
    if (!at) return {{}, at.instead};
    auto kept = call.held.judged.judged(at->folder, call.now(), depth);
    if (!kept) return {{}, conflict(kept.error())};
    return {JudgedCall{*at, std::move(kept).value()}};
}

Reply no_such_run(const std::string& id) {
    return not_found({Fault::bad_input, fmt::format("the order has no run '{}'", said_back(id)), "run",
                      "Its answer lists the ids of its runs"});
}

Found<RunCall> run_named(const Call& call) {
    const auto order = judged_named(call);
    if (!order) return {{}, order.instead};
    const std::string& id = call.names.at(1);
    const auto& runs = order->record().judgement.runs;
    for (std::size_t i = 0; i < runs.size(); ++i)
        if (!id.empty() && runs[i].run_id == id && runs[i].figures) return {RunCall{*order, i}};
    return {{}, no_such_run(id)};
}

}  // namespace ebbtide::server
