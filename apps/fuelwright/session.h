/// What the program knows about the person and the terminal it runs in: the only place that reads
/// clock and user.
#pragma once

#include <stop_token>
#include <string>

#include "base/result.h"
#include "service/service.h"

namespace fuelwright::apps {

/// The logged-in name (or FUELWRIGHT_USER), and now in UTC.
service::Who who();
/// Progress is drawn on a terminal only; a pipe gets nothing.
bool on_a_terminal();
/// Somebody can be asked: input comes from a terminal too.
bool a_person_answers();
/// One line that the next one overwrites; nothing on a pipe.
void progress(const std::string& text);
void end_progress();
/// Ctrl-C asks once to stop in good order; a second one ends the program.
std::stop_token stop_when_interrupted();
/// Whether Ctrl-C was pressed while it was being watched for.
bool was_interrupted();
/// "town.csv" of "cycles/town.csv".
inline std::string name_of_path(const std::string& path) {
  return path.substr(path.rfind('/') + 1);
}
/// Writes a file beside its name first and renames it, so that it is complete or not there. Errors:
/// io.
Status write_file(const std::string& path, const std::string& text);

}  // namespace fuelwright::apps
