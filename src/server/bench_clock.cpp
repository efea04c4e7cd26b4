#include "server/bench_clock.hpp"

#include "server/read_order.hpp"
#include "work/bench_at_hand.hpp"

namespace ebbtide::server {

Instant bench_clock(const Desk& desk, const std::vector<OrderFolder>& folders,
                    const std::vector<work::OrderInWork>& orders) {
    Instant now = now_at(desk);
    if (!desk.ahead_of_time) return now;
    work::BenchAtHand ahead;
    ahead.ahead_of_time = true;
    for (std::size_t i = 0; i < orders.size(); ++i) {
        const record::OrderRecord& documents = orders[i].documents;
        if (documents.bench)
            now = work::session_begin(ahead, *documents.bench, folders[i].folder,
                                      folders[i].folder + "/" + documents.order.bench_file, now);
    }
    return now;
}

Instant bench_clock(const Desk& desk) {
    if (!desk.ahead_of_time) return now_at(desk);
    const auto folders = order_folders(desk.folder);
    return folders ? bench_clock(desk, *folders, orders_in_work(*folders)) : now_at(desk);
}

}  // namespace ebbtide::server
