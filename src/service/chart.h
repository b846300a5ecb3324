/// The chart: a table of the job with its evidence, a line across it, the track that was driven.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "base/units/number.h"
#include "car/tables/difference.h"
#include "car/tables/evidence.h"
#include "service/job/job.h"
#include "service/traces.h"

namespace fuelwright::service {

/// Where estimate and interval come from.
enum class Basis { driving, parts, table };
const char* name_of(Basis basis);

struct ChartRequest {
  std::string job;
  std::optional<car::TableWhat> table;  ///< default: the one that evidence is about, else VE
  std::optional<int> against;           ///< a revision; default: the one in force
  bool of_parts = false;  ///< VE as the parts have it, though it was driven; no proposal
  /// Recordings of the job, for what each node rests on; those that are missing are left out.
  std::vector<std::shared_ptr<const DecodedRecording>> recordings = {};
};

/// Seconds that one recording was at each node, warm; not weighed.
struct Rests {
  std::int64_t id = 0;
  std::string name;
  std::vector<double> seconds;  ///< [node]
};

/// Arrays run over the grid's nodes, [y][x] row-major.
struct ChartReply {
  std::string sentence;
  UnitSystem units = UnitSystem::metric;
  car::TableWhat table = car::TableWhat::ve;
  std::optional<car::Grid> grid;  ///< always there
  Basis basis = Basis::table;
  std::optional<car::Evidence> evidence;  ///< none: the table alone
  std::optional<car::Surface> in_force;   ///< of the revision it is compared with, on the grid
  int revision = 0;
  std::optional<car::Surface> proposed;  ///< of the open proposal, on the grid
  std::optional<std::int64_t> proposal;
  std::optional<int> parent;
  std::vector<double> correction;  ///< estimate over in_force less 1; empty unless driven
  std::vector<double> reach;       ///< highest load of the axis at full throttle, [x]; or empty
  AbsolutePressure ambient{};      ///< of the place on the sheet
  std::string name;                ///< of the engine
  std::vector<double> change;      ///< shares (spark: degrees); empty without anything to compare
  std::vector<std::string> stale;  ///< why evidence or proposal no longer speaks for the job
  std::vector<std::string> says;   ///< one line a node
  std::vector<Rests> rests_on;
  std::vector<car::TableWhat> tables;  ///< that the revision has, or evidence is about
  std::int64_t head = 0;
};
/// Errors: not_found for a table or a revision that is not there; those of Job::open.
Result<ChartReply> chart(const ChartRequest& request);

/// A place along a line, and what is known there. `low` to `high`: 95 %; between nodes as if
/// neighbours erred together, so never too narrow:  sd(ln) = sum of shares times sd(ln) of nodes
struct SectionReply {
  car::TableWhat table = car::TableWhat::ve;
  UnitSystem units = UnitSystem::metric;
  Basis basis = Basis::table;
  std::vector<double> at, x, y;
  std::vector<double> estimate, low, high;  ///< empty without evidence
  std::vector<double> in_force, proposed;   ///< empty where there is none
  std::vector<double> seconds;
};
struct SectionLine {
  double x0 = 0, y0 = 0, x1 = 0, y1 = 0;  ///< SI of the axes
};
/// Errors: out_of_range for fewer than 2 or more than 1000 points.
Result<SectionReply> section(const ChartReply& chart, const SectionLine& line, int points);

/// A recording's way over the chart; NaN in all three where it leaves off.
struct Track {
  std::int64_t id = 0;
  std::string name;
  std::vector<double> x, y, t;
  std::string without;  ///< why it has none; or empty
};
/// At most `points` places: every place of the way lies within one step of a place that is kept.
Track track(const DecodedRecording& of, const car::Grid& grid, AbsolutePressure ambient,
            std::size_t points);
/// Ambient pressure of the job's place.
Result<AbsolutePressure> ambient_of(const std::string& job);

struct ProposalReply {
  std::optional<StoredProposal> stored;  ///< always there
  UnitSystem units = UnitSystem::metric;
  bool may_accept = true;
  std::string because;                       ///< why not
  std::vector<car::TableDifference> tables;  ///< from its parent
};
/// The open proposal. Errors: not_found.
Result<ProposalReply> proposal(const std::string& job);

}  // namespace fuelwright::service
