#pragma once
// A request on its way to its handler, and what handlers find things by.

#include <memory>
#include <mutex>
#include <string>
#include <vector>

#include "judge/judgement.hpp"
#include "ledger/database.hpp"
#include "server/api.hpp"
#include "server/held_imports.hpp"
#include "server/held_runs.hpp"
#include "server/judged_orders.hpp"
#include "server/order_folders.hpp"

namespace ebbtide::server {

/// What the server keeps in memory between requests.
struct Holdings {
    JudgedOrders judged;
    HeldRuns runs;
    HeldImports imports;
    std::mutex writing;  ///< into the orders' folders
    std::mutex drawing;  ///< with fonts: PDF and PNG
};

struct Call {
    const Request& request;
    std::vector<std::string> names;  ///< what stands for the names in braces of the path, in their order
    const Desk& desk;
    const BenchSide& bench;
    Holdings& held;

    [[nodiscard]] Instant now() const { return now_at(desk); }
    /// A parameter of the query; `otherwise` when it is absent.
    [[nodiscard]] std::string parameter(const std::string& name, const std::string& otherwise = "") const;
    /// The same as a number. Error: it is none, or outside the range.
    [[nodiscard]] Result<double> number(const std::string& name, double otherwise, double least,
                                        double most) const;
};

[[nodiscard]] Reply not_found(const Error& error);
/// What lies on the disk, or goes on at the bench, does not allow it: 409, or 500 for our own fault.
[[nodiscard]] Reply conflict(const Error& error);
/// By its fault, as error_reply(): 400 where what was sent is wrong.
[[nodiscard]] Reply refused(const Error& error);
[[nodiscard]] Reply refused(const std::string& what, const std::string& where, const std::string& remedy);

/// Something that was looked up, or the reply that says why there is none.
template <class T>
struct Found {
    std::optional<T> there;
    Reply instead = {};
    explicit operator bool() const { return there.has_value(); }
    const T& operator*() const { return *there; }
    const T* operator->() const { return &*there; }
};

/// The folder of an order; `where` names the field that names it.
[[nodiscard]] Found<OrderFolder> order_named(const Desk& desk, const std::string& key,
                                             const std::string& where = "key");
/// The folder of the order that the path names first.
[[nodiscard]] Found<OrderFolder> order_named(const Call& call);

/// The ledger that is served. Each request opens it anew: what others wrote is seen, and nothing is held
/// open.
[[nodiscard]] Found<std::shared_ptr<ledger::Database>> ledger_of(const Call& call);

/// A judged order.
struct JudgedCall {
    OrderFolder at;
    std::shared_ptr<const KeptJudgement> kept;
    [[nodiscard]] const record::OrderRecord& record() const { return kept->order.record; }
};
[[nodiscard]] Found<JudgedCall> judged_named(const Call& call, work::Depth depth = work::full_depth);

/// A run of it, that the path names second.
struct RunCall {
    JudgedCall order;
    std::size_t index = 0;  ///< among the runs of the judgement
    [[nodiscard]] const judge::JudgedRun& run() const { return order.record().judgement.runs[index]; }
};
/// Only runs with figures.
[[nodiscard]] Found<RunCall> run_named(const Call& call);
/// The order has none of that id.
[[nodiscard]] Reply no_such_run(const std::string& id);

}  // namespace ebbtide::server
