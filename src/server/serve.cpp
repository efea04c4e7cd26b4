#include "server/serve.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "server/api.hpp"
#include "server/api_bench.hpp"
#include "server/bench_clock.hpp"
#include "server/live_feed.hpp"
#include "server/live_session.hpp"
#include "server/page_files.hpp"
#include "work/bench_at_hand.hpp"
#include "work/simulate.hpp"

namespace ebbtide::server {
namespace {

Reply page_reply(const Request& request) {
    const auto& files = page_files();
    const auto file = std::ranges::find(files, request.path, &PageFile::path);
    if (request.method != "GET") return {405, "text/plain; charset=utf-8", "Files are read by GET.\n", {}};
    if (file != files.end()) return {200, std::string(file->type), std::string(file->bytes), {}};
    if (request.path == "/" && files.empty())
        return {503,
                "text/plain; charset=utf-8",
                "This program was built without its page: where it was built, node or npm was missing, or\n"
                "npm could not fetch what the page is bundled with. Install nodejs and npm, see that\n"
                "'npm ci' works in web/, then run ./dev build. The API under /api answers as it is.\n",
                {}};
    return {404, "text/plain; charset=utf-8", "There is nothing at this address.\n", {}};
}

std::optional<Error> not_there(const Desk& desk) {
    std::error_code none;
    if (!std::filesystem::is_directory(desk.folder, none))
        return Error{Fault::unreadable, "there is no such folder", desk.folder,
                     "Name the folder that holds the orders' folders"};
    if (!desk.ledger.empty() && !std::filesystem::exists(desk.ledger, none))
        return Error{Fault::unreadable, "there is no such ledger", desk.ledger,
                     "Make one with 'ebbtide ledger init'"};
    if (!desk.simulated.empty())
        if (const auto files = work::read_simulation(desk.simulated); !files) return files.error();
    return {};
}

}  // namespace

struct Serving::Parts {
    Parts(const Desk& desk, const BenchStand& stand)
        : session(feed, stand, [desk] { return bench_clock(desk); }),
          bench(desk, session, feed),
          api(desk, {[this](const Request& request) { return bench.answer(request); },
                     [this] { return session.works_on(); }}) {}

    LiveFeed feed;
    LiveSession session;
    BenchApi bench;
    Api api;
    std::unique_ptr<HttpServer> http;
};

Result<std::unique_ptr<Serving>> Serving::open(const ServeRequest& request) {
    if (const auto wrong = not_there(request.desk)) return *wrong;
    const auto pace = work::pace_named(request.desk.pace);
    if (!pace) return pace.error();
    Desk desk = request.desk;
    desk.ahead_of_time = !(pace->times > 0 && pace->times <= 1);
    auto parts = std::make_unique<Parts>(desk, BenchStand{desk.simulated, *pace, request.seed});
    Parts& them = *parts;
    auto http = HttpServer::open(
        request.address, request.port,
        [&them](const Request& asked) {
            return asked.path.starts_with("/api/") ? them.api.answer(asked) : page_reply(asked);
        },
        parts->feed, request.limits);
    if (!http) return http.error();
    parts->http = std::move(http).value();
    return std::unique_ptr<Serving>(new Serving(std::move(parts)));
}

Serving::Serving(std::unique_ptr<Parts> parts) : parts_(std::move(parts)) {}
Serving::~Serving() {
    parts_->session.abort();
    parts_->http->stop();
}

std::string Serving::entry() const {
    return parts_->http->entry();
}
std::uint16_t Serving::port() const {
    return parts_->http->port();
}
const std::string& Serving::token() const {
    return parts_->http->token();
}

}  // namespace ebbtide::server
