/// The commands: each takes what the command line said, asks service.h, prints the answer, returns
/// the exit code.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

namespace fuelwright::apps {

struct Common {
  bool json = false;
  std::optional<std::string> units;  ///< "us" or "metric"
};

struct NewOptions {
  Common common;
  std::string sheet;  ///< a path; empty: five questions
  std::string job;
  std::string table;  ///< a path to a pasted VE table; empty: none
  std::string load;   ///< what its left side means
  std::string load_unit;
  std::string decimal;  ///< "comma" or "point"; empty: as the cells show
};
int run_new(const NewOptions& o);

struct AddOptions {
  Common common;
  std::string job;
  std::vector<std::string> recordings;
  std::vector<std::string> channels;  ///< "HEADER=QUANTITY:UNIT"
  std::optional<double> afr_constant;
  std::string rate;
  std::string ambient;  ///< "98 kPa": makes gauge pressures and vacuum absolute
  bool unordered = false;
  std::optional<int> revision;
  std::string learned;  ///< a path to the factors the unit had learned; empty: none
};
int run_add(const AddOptions& o);

struct PredictOptions {
  Common common;
  std::string job;
  std::optional<int> members;
  bool keep = false;  ///< becomes a revision whatever is in force
  bool look = false;  ///< becomes none
  std::string why;
};
int run_predict(const PredictOptions& o);

struct SizeOptions {
  Common common;
  std::string job;
  std::string boost;  ///< "40 kPa"; empty: none
  bool cooler = false;
  bool exhaust_driven = false;
  double margin = 0.10;
  std::vector<std::string> measured;  ///< "pump_volts=12.4 V"
  bool forget_measured = false;
};
int run_size(const SizeOptions& o);

struct EstimateOptions {
  Common common;
  std::string job;
  std::string from;
  bool open_loop = false;
  std::optional<double> lean_limit;   ///< lambda
  std::optional<double> lean_chance;  ///< share
  bool cause_found = false;           ///< of a refuted step of full throttle
};
int run_estimate(const EstimateOptions& o);

struct CheckOptions {
  Common common;
  std::string job;
  std::vector<std::string> recordings;  ///< numbers or names
  std::vector<std::string> key_on;      ///< the same, or paths
  std::optional<double> afr_constant;   ///< of such a file's mixture readings
  std::vector<std::string> channels;    ///< as AddOptions
  std::string barometer, sea_level, altitude, air, stood;  ///< with their units; empty: not known
  std::string guard_rules;  ///< a path to rules (JSON) to keep in the job; empty: none
  bool first_start = false;
  std::map<std::string, std::string> answers;  ///< of the first start, by id; empty: not given
  std::optional<double> lean_limit, lean_chance;
};
int run_check(const CheckOptions& o);

struct PlanOptions {
  Common common;
  std::string job;
  std::string out;  ///< a file for the plan (TOML); empty: none
  std::optional<double> minutes;
  std::string top_speed;  ///< "90 km/h"; empty: a usual limit
  std::string cycle;      ///< a path; empty: the recordings' own use
  std::vector<std::int64_t> use;
  std::optional<double> within;  ///< share
  double grade = 0;
  bool dyno = false;
  bool stop_finding = false;
};
int run_plan(const PlanOptions& o);

struct AcceptOptions {
  Common common;
  std::string job;
  std::string why;
};
int run_accept(const AcceptOptions& o);

struct ExportOptions {
  Common common;
  std::string job;
  std::string form = "tsv";
  std::string table;
  std::optional<int> revision;
  std::string out;
};
int run_export(const ExportOptions& o);

struct ArchiveOptions {
  Common common;
  std::string job;
  std::string folder;
  std::string vehicle;
};
int run_export_recordings(const ArchiveOptions& o);

struct BringInOptions {
  Common common;
  std::string job;
  std::string file;  ///< a path; "-": what is piped in
  std::string form;
  std::string table;
  std::string named;
  std::string load;
  std::string load_unit;
  std::string decimal;
  std::string at;
  bool highest_first = false;
  bool interpolate = false;
  bool dry_run = false;
  std::optional<int> seen;
  std::string why;
};
int run_bring_in(const BringInOptions& o);

struct CompareOptions {
  Common common;
  std::string job;
  int from = 0;
  int to = 0;
};
int run_compare(const CompareOptions& o);

struct RevertOptions {
  Common common;
  std::string job;
  int revision = 0;
  std::string why;
};
int run_revert(const RevertOptions& o);

struct ShowOptions {
  Common common;
  std::string job;
  std::string what = "summary";
};
int run_show(const ShowOptions& o);

struct DemoOptions {
  Common common;
  std::string folder = "demo";
  unsigned seed = 1;
  bool found = false;  ///< the car came with a table; nothing is computed from the parts
};
int run_demo(const DemoOptions& o);

}  // namespace fuelwright::apps
