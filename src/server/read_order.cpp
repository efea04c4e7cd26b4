#include "server/read_order.hpp"

#include "work/bench_standing.hpp"
#include "work/order_documents.hpp"

namespace ebbtide::server {

Result<work::OrderInWork> read_order(const std::string& key, const std::string& folder) {
    const auto files = work::files_at_hand(folder);
    if (!files) return files.error();
    work::OrderInWork out;
    out.key = key;
    if (const auto read = work::read_documents(**files, {}, out.documents); !read) return read.error();
    const auto laid = work::laid_runs(**files, out.documents);
    if (!laid) return laid.error();
    out.places = work::order_places(out.documents.order, out.documents.method, *laid);
    if (out.documents.bench && out.documents.bench->check) {
        auto checks = work::bench_checks_in(folder, *out.documents.bench);
        if (!checks) return checks.error();
        out.checks = std::move(checks).value();
    }
    return out;
}

work::OrderInWork order_in_work(const std::string& key, const std::string& folder) {
    auto read = read_order(key, folder);
    if (read) return std::move(read).value();
    work::OrderInWork out;
    out.key = key;
    out.error = read.error();
    return out;
}

std::vector<work::OrderInWork> orders_in_work(const std::vector<OrderFolder>& folders) {
    std::vector<work::OrderInWork> orders;
    for (const OrderFolder& at : folders) orders.push_back(order_in_work(at.key, at.folder));
    return orders;
}

}  // namespace ebbtide::server
