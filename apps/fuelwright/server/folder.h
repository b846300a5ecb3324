/// The folder that is served: which files are jobs, and nothing outside it.
///
/// The program stands in the folder (its working directory), so that paths are short and messages
/// name a file as the person knows it.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "base/result.h"

namespace fuelwright::apps::server {

/// The file of a job: "v8" -> "v8.fw". Errors: usage for a name that cannot be one.
Result<std::string> job_file(const std::string& job);
/// The same, and it is there: a file of its own, no link. Errors: not_found.
Result<std::string> job_there(const std::string& job);

struct JobFile {
  std::string job;
  std::int64_t bytes = 0;
  std::string changed;  ///< ISO 8601 in UTC
  std::string stamp;    ///< another one whenever the file has been written to
};
/// By name.
std::vector<JobFile> jobs_here();
/// Of one job; empty if it is not there.
std::string stamp_of(const std::string& job);
std::string utc(std::int64_t seconds);

}  // namespace fuelwright::apps::server
