#include <fmt/format.h>
#include <signal.h>

#include <chrono>
#include <cstdio>
#include <thread>

#include "cli/at_the_bench.hpp"
#include "cli/commands.hpp"
#include "cli/print.hpp"
#include "server/serve.hpp"

namespace ebbtide::cli {

int serve(const ServeOptions& options) {
    server::ServeRequest request;
    request.desk.folder = options.folder;
    request.desk.ledger = options.ledger;
    request.desk.simulated = options.simulated;
    request.desk.pace = options.pace;
    request.desk.who = options.who;
    request.address = options.address;
    request.port = options.port;
    request.seed = options.seed;
    // A browser that goes away ends no program.
    ::signal(SIGPIPE, SIG_IGN);
    heed_signals();
    const auto serving = server::Serving::open(request);
    if (!serving) return complain(serving.error());
    fmt::print("{}\n", (*serving)->entry());
    std::fflush(stdout);
    while (!asked_to_end()) std::this_thread::sleep_for(std::chrono::milliseconds(100));
    return ok;
}

}  // namespace ebbtide::cli
