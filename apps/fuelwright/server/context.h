/// What all routes share, and the table of routes.
#pragma once

#include <atomic>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "apps/fuelwright/server/charts.h"
#include "apps/fuelwright/server/decoded.h"
#include "apps/fuelwright/server/events.h"
#include "apps/fuelwright/server/fields.h"
#include "apps/fuelwright/server/request.h"
#include "apps/fuelwright/server/works.h"
#include "service/api/json.h"
#include "service/service.h"

namespace fuelwright::apps::server {

/// What `GET /jobs` says of one job, kept while its file is unchanged.
struct KnownJob {
  std::string stamp;
  Json says;
};

class Context {
 public:
  std::string folder, version, token, started;
  Events events;
  Decoded decoded;
  Charts charts;
  std::atomic<int> uploads{0};
  /// Writes of one job take their turn.
  std::mutex& turn_of(const std::string& job);
  std::mutex known_mutex;
  std::map<std::string, KnownJob> known;
  std::map<std::string, std::int64_t> journal_told;  ///< last row of each that `changed` told of

 private:
  std::mutex turns_mutex_;
  std::map<std::string, std::unique_ptr<std::mutex>> turns_;

 public:
  std::optional<Works> works;  ///< last: its threads use the rest
};

enum class Takes { nothing, json, bytes };

struct Route {
  std::string method;
  std::vector<std::string> path;  ///< below /api/v1; "*" is any one piece
  Takes takes = Takes::nothing;
  Answer (*answer)(Context&, const Asked&);
};

/// "POST", "jobs/*/uploads"
Route route(const char* method, const char* path, Takes takes,
            Answer (*answer)(Context&, const Asked&));

std::vector<Route> job_routes();          // routes_jobs.cc
std::vector<Route> sheet_routes();        // routes_sheet.cc
std::vector<Route> recording_routes();    // routes_recordings.cc
std::vector<Route> first_start_routes();  // routes_first_start.cc
std::vector<Route> chart_routes();        // routes_chart.cc
std::vector<Route> table_routes();        // routes_tables.cc
std::vector<Route> work_routes();         // routes_work.cc

// ---- for routes

/// Piece 1 of the path, the job's name; and its file, which is there.
const std::string& name_in(const Asked& asked);
Result<std::string> job_of(const Asked& asked);
/// Tells listeners that the job may have changed; forgets what was known of it.
void touched(Context& context, const std::string& job);
/// Runs `write` while nobody else writes to the job, then tells listeners.
Answer in_turn(Context& context, const std::string& job, const std::function<Answer()>& write);
/// Puts work up and answers with it, waiting as `?wait=` says.
Answer put_up(Context& context, const Asked& asked, const char* what, bool only_reads,
              std::function<Answer(const Tools&)> run);

/// The service's answer as it is.
template <class Reply>
Answer said(const Result<Reply>& reply, int status = 200) {
  return reply ? Answer{status, service::json(*reply)} : refusal(reply.error());
}

// ---- shapes that several bodies have

service::TableIn pasted(Fields& in);
/// Of a key that holds one.
std::optional<service::TableIn> pasted_in(Fields& in, const char* key);
signals::Answers answers_in(Fields& in, const char* key);
/// barometer, sea_level, altitude, air, stood.
advice::WeatherReport weather_in(Fields& in);
std::optional<double> figure(Fields& in, const char* key, Kind kind);

/// FW_TRY for functions that answer.
#define FW_ASK(declaration, expression)                \
  auto FW_CAT(fw_ask_, __LINE__) = (expression);       \
  if (!FW_CAT(fw_ask_, __LINE__)) {                    \
    return refusal(FW_CAT(fw_ask_, __LINE__).error()); \
  }                                                    \
  declaration = std::move(FW_CAT(fw_ask_, __LINE__)).operator*()
#define FW_SURE(expression)                      \
  do {                                           \
    if (auto fw_sure = (expression); !fw_sure) { \
      return refusal(fw_sure.error());           \
    }                                            \
  } while (false)

}  // namespace fuelwright::apps::server
