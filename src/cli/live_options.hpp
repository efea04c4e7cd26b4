#pragma once
// Options of the commands at a bench: listen, drive, check; main.cpp has the others.

#include "cli/commands.hpp"

namespace CLI {
class App;
}

namespace ebbtide::cli {

/// Each adds its command, which sets `code` when it is called, and returns it for options that other commands
/// have too. `options` outlives the parsing.
CLI::App* add_listen_command(CLI::App& app, ListenOptions& options, int& code);
CLI::App* add_drive_command(CLI::App& app, DriveOptions& options, int& code);
CLI::App* add_check_command(CLI::App& app, CheckOptions& options, int& code);

}  // namespace ebbtide::cli
