#pragma once
// /api/bench and what lies below it: how the benches of the orders stand, and the session that is begun,
// answered, paused and aborted. docs/formats/page.md.

#include "server/desk.hpp"
#include "server/live_feed.hpp"
#include "server/live_session.hpp"
#include "server/request.hpp"

namespace ebbtide::server {

class Fields;

/// Any number of threads. Hears the methods that the router let through; session and feed must outlive it.
class BenchApi {
  public:
    BenchApi(Desk desk, LiveSession& session, const LiveFeed& feed)
        : desk_(std::move(desk)), session_(session), feed_(feed) {}
    [[nodiscard]] Reply answer(const Request& request);

  private:
    [[nodiscard]] Reply state() const;
    [[nodiscard]] Reply start(Fields& asked);
    [[nodiscard]] Reply check(Fields& asked);
    [[nodiscard]] Reply answer_question(Fields& asked);
    [[nodiscard]] Reply stands_after(const Result<Done>& done) const;

    Desk desk_;
    LiveSession& session_;
    const LiveFeed& feed_;
};

}  // namespace ebbtide::server
