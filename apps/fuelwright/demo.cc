// fuelwright demo: the whole job on an invented car. Sheet, prediction and first calibration, a
// drive with it, estimate, accept, a drive on other roads with the new table, estimate again,
// export; then how far the mixture was off before and after, and what is known and what is not.
//
// The car is invented by sim/: with seed 1 it is the one kept in examples/street_v8_truth.toml,
// with another it is drawn and its air computed now. The estimate sees its recordings only.
#include "demo.h"

#include <fmt/format.h>

#include <filesystem>
#include <future>
#include <nlohmann/json.hpp>
#include <thread>

#include "car/build/sheet_file.h"
#include "car/tables/table_text.h"
#include "commands.h"
#include "demo_car.h"
#include "service/api/json.h"
#include "service/report/text.h"
#include "service/service.h"
#include "session.h"

namespace fuelwright::apps {
namespace {

const Road kFirstRoad{"town and country", {DemoCycle::town, DemoCycle::country}};
const Road kSecondRoad{"motorway and brisk", {DemoCycle::motorway, DemoCycle::brisk}};
const Road kNewRoad{"ring", {DemoCycle::ring}};

// Fewer than `fuelwright predict` draws, so that the demo is not to be waited for; it says so.
constexpr int kMembers = 24;
constexpr unsigned kKeptSeed = 1;

service::PredictRequest predict_request(const std::string& job) {
  service::PredictRequest request;
  const service::Who asks = who();
  request.job = job;
  request.members = kMembers;
  request.who = asks.name;
  request.when = asks.when;
  request.threads = static_cast<int>(std::max(1U, std::thread::hardware_concurrency()));
  request.stop = stop_when_interrupted();
  request.progress = [](double share) {
    progress(fmt::format("computing the engines that could be this one: {:.0f} %", 100 * share));
  };
  return request;
}

void step(const Common& common, const std::string& title) {
  if (!common.json) fmt::print("\n== {}\n\n", title);
}

template <class Reply>
Result<Reply> say(const Common& common, Result<Reply> reply, bool whole = true) {
  if (reply && !common.json) {
    fmt::print("{}", whole ? service::text(*reply) : reply->sentence + "\n");
  }
  return reply;
}

/// What happened, for the last page.
struct Story {
  int first_revision = 0;   ///< in the unit during the first drive
  std::string begins_with;  ///< "the computed table"
  DemoDrive drives[2];
  Off second_without_estimate;  ///< the second drive again, with what the first had in the unit
  Off new_road_before, new_road_after;
  service::EstimateReply last;
  std::string table;  ///< where it was written
};

class Demo {
 public:
  Demo(const DemoOptions& options, car::Sheet sheet, DemoCar car)
      : o_(options), sheet_(std::move(sheet)), car_(std::move(car)) {
    job_ = (std::filesystem::path(o_.folder) / "street_v8.fw").string();
  }
  Result<Story> run();

 private:
  Result<car::Calibration> begin(Story& story);
  Status drive_and_estimate(int round, const Road& road, car::Calibration& in_unit, Story& story);
  std::string path(const std::string& name) const {
    return (std::filesystem::path(o_.folder) / name).string();
  }
  std::uint64_t seed(unsigned part) const { return std::uint64_t{o_.seed} * 100 + part; }

  const DemoOptions& o_;
  car::Sheet sheet_;
  DemoCar car_;
  std::string job_;
};

/// The job, and what is in the unit when the first drive begins.
Result<car::Calibration> Demo::begin(Story& story) {
  service::NewRequest fresh;
  fresh.job = job_;
  fresh.sheet_toml = demo_sheet();
  fresh.sheet_name = "street_v8.toml";
  fresh.who = who();
  if (o_.found) {
    step(o_.common, "new: the parts and the table as found");
    story.begins_with = "the table as found";
    car::Calibration found = car_.as_found();
    service::TableIn table;
    table.text = car::write_table(*found.find(car::TableWhat::ve), car::TableWhat::ve,
                                  car::TextForm::tsv, UnitSystem::us);
    table.name = "table as found";
    fresh.ve_as_found = std::move(table);
    FW_CHECK(say(o_.common, service::new_job(fresh)));
    return found;
  }
  step(o_.common, "new: the parts");
  FW_CHECK(say(o_.common, service::new_job(fresh)));
  step(o_.common, "predict: what it will do, and its first calibration");
  story.first_revision = 1;
  story.begins_with = "the computed table";
  FW_TRY(const service::PredictReply predicted,
         say(o_.common, service::predict(predict_request(job_))));
  return predicted.first.calibration;
}

Status Demo::drive_and_estimate(int round, const Road& road, car::Calibration& in_unit,
                                Story& story) {
  const int revision = story.first_revision + round - 1;
  progress("driving");
  FW_TRY(DemoDrive driven, car_.drive(in_unit, road, seed(static_cast<unsigned>(round))));
  end_progress();
  step(o_.common, fmt::format("add: drive {}, {}, {:.0f} minutes, revision {} in the unit", round,
                              road.name, driven.minutes, revision));
  const std::string name = fmt::format("drive_{}.csv", round);
  FW_CHECK(write_file(path(name), driven.recording));
  signals::Answers answers;
  answers.afr_constant = car_.gauge_constant();
  const bool whole = round == 1;
  FW_CHECK(say(o_.common,
               service::add_recording({job_, name, driven.recording, answers, std::nullopt, who()}),
               whole));
  step(o_.common, "estimate: what the recordings prove");
  FW_TRY(story.last, say(o_.common, service::estimate({job_, std::nullopt, false, who()}), whole));
  step(o_.common, "accept");
  FW_CHECK(say(o_.common, service::accept({job_, "", who()})));
  in_unit.tables.insert_or_assign(car::TableWhat::ve, *story.last.proposed);
  story.drives[round - 1] = std::move(driven);
  return Done{};
}

Result<Story> Demo::run() {
  Story story;
  FW_TRY(const car::Calibration first, begin(story));
  car::Calibration in_unit = first;
  FW_CHECK(drive_and_estimate(1, kFirstRoad, in_unit, story));
  FW_CHECK(drive_and_estimate(2, kSecondRoad, in_unit, story));
  step(o_.common, "export");
  FW_TRY(const std::string tsv, service::export_tables({job_, service::ExportForm::tsv,
                                                        std::nullopt, car::TableWhat::ve}));
  story.table = path("ve.tsv");
  FW_CHECK(write_file(story.table, tsv));
  progress("driving the same roads with the first table");
  const auto driven = [this](const car::Calibration& unit, const Road& road, unsigned part) {
    return std::async(std::launch::async,
                      [&unit, &road, part, this] { return car_.drive(unit, road, seed(part)); });
  };
  auto again = driven(first, kSecondRoad, 2), before = driven(first, kNewRoad, 9),
       after = driven(in_unit, kNewRoad, 9);
  const auto off = [](std::future<Result<DemoDrive>>& drive) -> Result<Off> {
    FW_TRY(const DemoDrive done, drive.get());
    return done.off;
  };
  FW_TRY(story.second_without_estimate, off(again));
  FW_TRY(story.new_road_before, off(before));
  FW_TRY(story.new_road_after, off(after));
  end_progress();
  return story;
}

std::string both(const Off& off) {
  return fmt::format("{:.1f} % by the truth and {:.1f} % by the recorder", 100 * off.by_truth,
                     100 * off.by_recorder);
}

void print_before_and_after(const Story& s) {
  const int r = s.first_revision;
  fmt::print("The VE table of revision {} is in {}, ready to paste.\n\n", r + 2, s.table);
  fmt::print("How far the mixture was off, before and after:\n");
  fmt::print("  Drive 1 ({}) with revision {}, {}: {}.\n", kFirstRoad.name, r, s.begins_with,
             both(s.drives[0].off));
  fmt::print("  Drive 2 ({}) with revision {}, what drive 1 proved: {}.\n", kSecondRoad.name, r + 1,
             both(s.drives[1].off));
  fmt::print("  Drive 2 had it been driven with revision {}: {}.\n", r,
             both(s.second_without_estimate));
  fmt::print("  A road not driven yet ({}): {} with revision {}, {} with revision {}.\n",
             kNewRoad.name, both(s.new_road_before), r, both(s.new_road_after), r + 2);
  fmt::print(
      "On that road {:.1f} % before and {:.1f} % after are the table's and the injectors' part; "
      "the "
      "rest is fuel on\nthe walls of the manifold, which no table of VE can cure.\n",
      100 * s.new_road_before.by_injectors, 100 * s.new_road_after.by_injectors);
  fmt::print(
      "All of this is rms over warm driven time without fuel cuts, the unit's closed-loop "
      "correction "
      "taken out.\nThe truth, the mean of all cylinders, is known because the car is invented. The "
      "recorder sees one bank of it,\nlate, through pipe, sensor and noise.\n\n");
  fmt::print("{} {}\n", s.last.sentence, s.last.not_known);
}

nlohmann::ordered_json as_json(const Off& off) {
  return {{"by_truth", off.by_truth},
          {"by_injectors", off.by_injectors},
          {"by_recorder", off.by_recorder},
          {"minutes", off.minutes}};
}

void print_json(const Story& s) {
  auto answer = nlohmann::ordered_json::parse(service::json(s.last));
  answer["mixture_off_rms"] = {{"drive_1", as_json(s.drives[0].off)},
                               {"drive_2", as_json(s.drives[1].off)},
                               {"drive_2_with_first_table", as_json(s.second_without_estimate)},
                               {"new_road_with_first_table", as_json(s.new_road_before)},
                               {"new_road_with_last_table", as_json(s.new_road_after)}};
  fmt::print("{}\n", answer.dump(2));
}

Result<DemoCar> car_of(const DemoOptions& o, const car::Sheet& sheet) {
  if (o.seed == kKeptSeed) return DemoCar::read(sheet, demo_truth(), o.seed);
  auto car = DemoCar::invent(sheet, o.seed, [](double share) {
    progress(fmt::format("inventing the car that was built of these parts: {:.0f} %", 100 * share));
  });
  end_progress();
  return car;
}

void say_where_the_truth_comes_from(const DemoOptions& o) {
  if (o.common.json) return;
  fmt::print(
      "The car is invented: parts a little off the sheet, as parts are, {}.\n"
      "What is true of it nobody is told; only its recordings are read, and at the end the truth "
      "is "
      "used to judge.\n",
      o.seed == kKeptSeed ? "kept in examples/street_v8_truth.toml"
                          : fmt::format("drawn from seed {}", o.seed));
}

Status run(const DemoOptions& o) {
  namespace fs = std::filesystem;
  std::error_code ec;
  fs::create_directories(o.folder, ec);
  if (ec) return Error{ErrorCode::io, o.folder, "cannot be made: " + ec.message()};
  const std::string job = (fs::path(o.folder) / "street_v8.fw").string();
  for (const char* tail : {"", "-wal", "-shm"}) fs::remove(job + tail, ec);

  FW_TRY(car::Sheet sheet, car::read_sheet(demo_sheet(), "street_v8.toml"));
  FW_TRY(DemoCar car, car_of(o, sheet));
  say_where_the_truth_comes_from(o);
  FW_TRY(const Story story, Demo(o, std::move(sheet), std::move(car)).run());
  if (o.common.json) {
    print_json(story);
  } else {
    print_before_and_after(story);
  }
  return Done{};
}

}  // namespace

int run_demo(const DemoOptions& o) {
  const Status status = run(o);
  end_progress();
  if (status) return 0;
  if (o.common.json) {
    fmt::print("{}", service::json(status.error()));
  } else {
    fmt::print(stderr, "fuelwright: {}\n", status.error().line());
  }
  return exit_code(status.error().code);
}

}  // namespace fuelwright::apps
