// fuelwright demo: the whole job on an invented car. Sheet, prediction and first calibration, the
// fuel supply, the sensors at key-on, a drive in town, estimate, accept; then the plan of the next
// drive, the car that drives it, estimate again, export; how far the mixture was off before and
// after, what the plan had said and what came, and what is known and what is not.
//
// The car is invented by sim/: with seed 1 it is the one kept in examples/street_v8_truth.toml,
// with another it is drawn and its air computed now. The estimate sees its recordings only.
#include "demo.h"

#include <fmt/format.h>

#include <filesystem>
#include <future>
#include <thread>

#include "car/build/sheet_file.h"
#include "car/plan/plan_file.h"
#include "car/tables/table_text.h"
#include "commands.h"
#include "demo_car.h"
#include "demo_story.h"
#include "service/api/json.h"
#include "service/report/text.h"
#include "service/service.h"
#include "session.h"

namespace fuelwright::apps {
namespace {

const Road kFirst{"town", {DemoCycle::town}};
const Road kUse{"country and motorway", {DemoCycle::country, DemoCycle::motorway}};
const Road kNewRoad{"ring", {DemoCycle::ring}};
constexpr double kPlanMinutes = 10;
constexpr Speed kPlanLimit{70 * 0.44704};  // of the motorway at hand

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

class Demo {
 public:
  Demo(const DemoOptions& options, car::Sheet sheet, DemoCar car)
      : o_(options), sheet_(std::move(sheet)), car_(std::move(car)) {
    job_ = (std::filesystem::path(o_.folder) / "street_v8.fw").string();
  }
  Result<Story> run();

 private:
  Result<car::Calibration> begin(Story& story);
  /// Where engines were drawn already.
  Status check_supply();
  Status check_key_on();
  Status check_drive(std::int64_t recording);
  /// The drive into the job, its sensors checked, what it proves accepted.
  Status learn(int number, const std::string& what, const DemoDrive& drive,
               car::Calibration& in_unit, Story& story);
  Status drive_by_plan(car::Calibration& in_unit, Story& story);
  Result<service::PlanRequest> plan_request() const;
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
  FW_CHECK(check_supply());
  return predicted.first.calibration;
}

Status Demo::check_supply() {
  step(o_.common, "size: can the fuel system feed it, and where must it stop");
  service::SizeRequest request;
  const service::Who asks = who();
  request.job = job_;
  request.members = kMembers;
  request.who = asks.name;
  request.when = asks.when;
  FW_CHECK(say(o_.common, service::size(request), false));
  return Done{};
}

Status Demo::check_key_on() {
  step(o_.common, "check: the sensors with the key on, the engine standing");
  const std::string csv = car_.standing(seed(5));
  FW_CHECK(write_file(path("key_on.csv"), csv));
  service::CheckRequest request{job_, {}, {"key_on.csv"}, {}};
  signals::Answers answers;
  answers.afr_constant = car_.gauge_constant();
  // An engine at rest shows too little of itself for the columns to be recognised by how they move.
  for (const char* column : {"RPM=rpm:rpm", "MAP=map:kPa", "Throttle=throttle:%",
                             "Coolant=coolant:degF", "Intake air=intake_air:degF",
                             "Battery=battery:V", "Fuel pressure=fuel_pressure:kPa gauge"}) {
    FW_CHECK(signals::add_channel_answer(answers, column));
  }
  request.files = {{"key_on.csv", csv, answers}};
  request.weather = {.station = car_.barometer(), .air = car_.air(), .stood = 10.0 * hour};
  FW_TRY(const service::CheckReply checked, service::check(request));
  if (!o_.common.json) fmt::print("{}", in_short(checked));
  return Done{};
}

Status Demo::check_drive(std::int64_t recording) {
  step(o_.common, "check: can the sensors of that drive be believed");
  FW_TRY(const service::CheckReply checked,
         service::check({job_, {std::to_string(recording)}, {}, {}}));
  if (!o_.common.json) fmt::print("{}", in_short(checked));
  return Done{};
}

Status Demo::learn(int number, const std::string& what, const DemoDrive& drive,
                   car::Calibration& in_unit, Story& story) {
  const bool whole = number == 1;
  step(o_.common, fmt::format("add: drive {}, {}, {:.0f} minutes, revision {} in the unit", number,
                              what, drive.minutes, story.first_revision + number - 1));
  const std::string name = fmt::format("drive_{}.csv", number);
  FW_CHECK(write_file(path(name), drive.recording));
  signals::Answers answers;
  answers.afr_constant = car_.gauge_constant();
  FW_TRY(const service::AddReply added,
         say(o_.common,
             service::add_recording({job_, name, drive.recording, answers, std::nullopt, who()}),
             whole));
  FW_CHECK(check_drive(added.id));
  step(o_.common, "estimate: what the recordings prove");
  progress("estimating");
  auto estimated = service::estimate({.job = job_, .who = who()});
  end_progress();
  FW_TRY(story.last, say(o_.common, std::move(estimated), whole));
  step(o_.common, "accept");
  FW_CHECK(say(o_.common, service::accept({job_, "", who()})));
  in_unit.tables.insert_or_assign(car::TableWhat::ve, *story.last.proposed);
  return Done{};
}

// Time and speed of the roads that the owner drives, as a cycle's file.
std::string use_csv(const std::vector<std::pair<double, double>>& speeds) {
  std::string out = "time_s,speed_mps\n";
  for (const auto& [t, v] : speeds) out += fmt::format("{:.1f},{:.3f}\n", t, v);
  return out;
}

Result<service::PlanRequest> Demo::plan_request() const {
  FW_TRY(const auto speeds, speeds_of(kUse));
  return service::PlanRequest{.job = job_,
                              .minutes = kPlanMinutes,
                              .top_speed = kPlanLimit,
                              .cycle_csv = use_csv(speeds),
                              .cycle_name = "of " + kUse.name};
}

Status Demo::drive_by_plan(car::Calibration& in_unit, Story& story) {
  step(o_.common, "plan: where to drive next");
  progress("planning");
  FW_TRY(const service::PlanRequest request, plan_request());
  const auto planned = service::plan(request);
  end_progress();
  FW_CHECK(say(o_.common, planned));
  SaidAndCame& p = story.plan;
  const advice::DrivePlan& plan = planned->plan;
  p.good = plan.options.good;
  p.minutes = plan.time().in(minute);
  p.steps = plan.steps.size();
  p.said_sd = plan.then().sd;
  p.said_within = plan.then().within;
  story.before_plan = *story.last.evidence;
  if (plan.steps.empty()) {
    return Error{ErrorCode::not_found, "the plan", "has no step: " + planned->sentence};
  }
  const std::string text = car::write_plan(plan.plan());
  FW_CHECK(write_file(path("next.toml"), text));
  FW_TRY(const car::Plan read, car::read_plan(text, "next.toml"));
  step(o_.common, "the car drives the plan");
  progress("driving the plan");
  FW_TRY(story.planned, car_.drive(in_unit, read, seed(2)));
  end_progress();
  p.cut_short = story.planned.cut_short;
  if (!o_.common.json) fmt::print("{}", followed(p));
  return learn(2, "the plan", story.planned, in_unit, story);
}

Result<Story> Demo::run() {
  Story story;
  FW_TRY(const car::Calibration first, begin(story));
  car::Calibration in_unit = first;
  FW_CHECK(check_key_on());
  progress("driving");
  FW_TRY(story.ordinary, car_.drive(in_unit, kFirst, seed(1)));
  end_progress();
  FW_CHECK(learn(1, kFirst.name, story.ordinary, in_unit, story));
  FW_CHECK(drive_by_plan(in_unit, story));
  const auto driven = [this](const car::Calibration& unit, const Road& road, unsigned part) {
    return std::async(std::launch::async,
                      [&unit, &road, part, this] { return car_.drive(unit, road, seed(part)); });
  };
  auto use_before = driven(first, kUse, 7), use_after = driven(in_unit, kUse, 7),
       before = driven(first, kNewRoad, 9), after = driven(in_unit, kNewRoad, 9);
  step(o_.common, "export, and where to drive after that");
  progress("planning, and driving the same roads again");
  FW_TRY(const std::string tsv, service::export_tables({job_, service::ExportForm::tsv,
                                                        std::nullopt, car::TableWhat::ve}));
  story.table = path("ve.tsv");
  FW_CHECK(write_file(story.table, tsv));
  FW_TRY(const service::PlanRequest request, plan_request());
  FW_TRY(story.next, service::plan(request));
  const auto off = [](std::future<Result<DemoDrive>>& drive) -> Result<Off> {
    FW_TRY(const DemoDrive done, drive.get());
    return done.off;
  };
  FW_TRY(story.use_before, use_before.get());
  FW_TRY(story.use_after, use_after.get());
  FW_TRY(story.new_road_before, off(before));
  FW_TRY(story.new_road_after, off(after));
  end_progress();
  const auto known = [&](const car::Evidence& e) {
    return apart({e.grid, e.estimate}, story.use_after.wanted, story.plan.good);
  };
  story.plan.before = known(*story.before_plan);
  story.plan.came = known(*story.last.evidence);
  return story;
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
    fmt::print("{}\n", story_json(story));
  } else {
    fmt::print("{}", before_and_after(story, kUse, kNewRoad));
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
