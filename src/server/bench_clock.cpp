#include "server/bench_clock.hpp"

#include "server/order_folders.hpp"
#include "server/read_order.hpp"
#include "work/bench_at_hand.hpp"

namespace ebbtide::server {

Instant bench_clock(const Desk& desk) {
    Instant now = now_at(desk);
    if (!desk.ahead_of_time) return now;
    const auto folders = order_folders(desk.folder);
    if (!folders) return now;
    work::BenchAtHand ahead;
    ahead.ahead_of_time = true;
    for (const OrderFolder& at : *folders) {
        const work::OrderInWork order = order_in_work(at.key, at.folder);
        if (order.documents.bench)
            now = work::session_begin(ahead, *order.documents.bench, at.folder,
                                      at.folder + "/" + order.documents.order.bench_file, now);
    }
    return now;
}

}  // namespace ebbtide::server
