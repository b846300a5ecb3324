// fuelwright: one program, one subcommand per question. docs/exit_codes.md lists what it returns.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <csignal>
#include <exception>

#include "base/contract.h"
#include "car_command.h"
#include "commands.h"
#include "serve_command.h"
#include "session.h"

namespace {

using namespace fuelwright::apps;

constexpr int kUsage = 2;
constexpr int kBug = 1;            // docs/exit_codes.md
constexpr int kInterrupted = 130;  // as the shell says it

void add_common(CLI::App* command, Common& common) {
  command->add_flag("--json", common.json, "the same answer as JSON");
}

void add_units(CLI::App* command, Common& common) {
  command->add_option("--units", common.units, "us or metric; kept in the job");
}

struct Options {
  NewOptions fresh;
  AddOptions add;
  PredictOptions predict;
  SizeOptions size;
  CheckOptions check;
  EstimateOptions estimate;
  PlanOptions plan;
  AcceptOptions accept;
  ExportOptions tables;
  ArchiveOptions archive;
  BringInOptions bring_in;
  CompareOptions compare;
  RevertOptions revert;
  ShowOptions show;
  DemoOptions demo;
  CarOptions car;
  ServeOptions serve;
};

// Tables in by hand, and the way back.
void define_by_hand(CLI::App& app, Options& o, int& code) {
  auto* in = app.add_subcommand("bring-in",
                                "a table, or a part of one, changed by hand: shown, "
                                "then made a revision");
  in->add_option("JOB", o.bring_in.job)->required();
  in->add_option("FILE", o.bring_in.file, "pasted text, JSON or ASAM CDF; - for what is piped in")
      ->required();
  in->add_option("--table", o.bring_in.table,
                 "ve, lambda_target, correction, spark, or a curve or setting by its name");
  in->add_option("--form", o.bring_in.form, "tsv, csv, json or cdf; default: as it begins");
  in->add_option("--named", o.bring_in.named, "the map of a CDF file that is the table");
  in->add_option("--load-axis", o.bring_in.load,
                 "what its left side means: map_absolute, vacuum, throttle");
  in->add_option("--load-unit", o.bring_in.load_unit, "unit of its left side: kPa, inHg, %");
  in->add_option("--decimal", o.bring_in.decimal, "its decimal mark: comma or point");
  in->add_option("--at", o.bring_in.at,
                 "the node where a part without axes begins: \"1500 rpm, 40 kPa\"");
  in->add_flag("--highest-first", o.bring_in.highest_first,
               "a part without axes begins with its highest breakpoint of load or vacuum");
  in->add_flag("--interpolate", o.bring_in.interpolate, "put a table with other axes on the job's");
  in->add_flag("--dry-run", o.bring_in.dry_run, "show what would change; write nothing");
  in->add_option("--seen", o.bring_in.seen, "the revision that was looked at; another is refused");
  in->add_option("--why", o.bring_in.why, "why, for the journal");
  add_common(in, o.bring_in.common);
  add_units(in, o.bring_in.common);
  in->callback([&] { code = run_bring_in(o.bring_in); });

  auto* compare = app.add_subcommand("compare", "what differs between two revisions");
  compare->add_option("JOB", o.compare.job)->required();
  compare->add_option("FROM", o.compare.from, "a revision")->required();
  compare->add_option("TO", o.compare.to, "another")->required();
  add_common(compare, o.compare.common);
  add_units(compare, o.compare.common);
  compare->callback([&] { code = run_compare(o.compare); });

  auto* revert = app.add_subcommand("revert", "an earlier revision is in force again");
  revert->add_option("JOB", o.revert.job)->required();
  revert->add_option("REVISION", o.revert.revision)->required();
  revert->add_option("--why", o.revert.why, "why, for the journal");
  add_common(revert, o.revert.common);
  add_units(revert, o.revert.common);
  revert->callback([&] { code = run_revert(o.revert); });
}

void define_first_start(CLI::App* check, CheckOptions& o) {
  auto* first = check->add_flag("--first-start", o.first_start,
                                "what must happen before this engine runs for the first time, in "
                                "order; what is not answered below is asked");
  const auto answer = [&](const char* option, const char* id, const char* says) {
    check->add_option(option, o.answers[id], says)->needs(first);
  };
  answer("--fresh-engine", "fresh_engine", "yes or no: new, rebuilt, or stood for over a year");
  answer("--new-cam", "new_cam", "yes or no: a camshaft or tappets that have never run");
  answer("--tappets", "tappets", "flat, roller or not-known; where the sheet does not say");
  answer("--fuel-opened", "fuel_opened", "yes or no: a joint of the fuel system was off");
  answer("--cooling-opened", "cooling_opened", "yes or no: coolant was drained");
  answer("--timing", "timing", "untouched, checked or unchecked: distributor, trigger, cam drive");
  check
      ->add_option("--lean-limit", o.lean_limit,
                   "leanest mixture at a cam's run-in, lambda 0.85 to 1.10; default 1.00")
      ->needs(first);
  check
      ->add_option("--lean-chance", o.lean_chance,
                   "chance of being leaner there that is taken, 0.0005 to 0.2; default 0.01")
      ->needs(first);
}

void define_check(CLI::App& app, Options& o, int& code) {
  auto* check =
      app.add_subcommand("check", "can the sensors be believed; where did the guard fire");
  check->add_option("JOB", o.check.job)->required();
  check->add_option("RECORDING", o.check.recordings,
                    "recordings of the job, by number or name; default: all");
  check->add_option("--key-on", o.check.key_on,
                    "a recording with the key on and the engine standing: of the job, or a file, "
                    "which is not added");
  check->add_option("--afr-constant", o.check.afr_constant,
                    "AFR that the file's mixture readings show at lambda 1");
  check->add_option("--channel", o.check.channels,
                    "HEADER=QUANTITY:UNIT, for a column of the file");
  check->add_option("--barometer", o.check.barometer, "pressure at the place itself: \"98.2 kPa\"");
  check->add_option("--sea-level", o.check.sea_level,
                    "pressure as a weather report gives it, brought to the altitude");
  check->add_option("--altitude", o.check.altitude, "of the place; default: the sheet's");
  check->add_option("--air", o.check.air, "temperature of the air outside: \"12 degC\"");
  check->add_option("--stood", o.check.stood, "how long the engine has stood: \"10 h\"");
  check->add_option("--guard-rules", o.check.guard_rules,
                    "rules of the guard (JSON) to keep in the job from now on");
  define_first_start(check, o.check);
  add_common(check, o.check.common);
  add_units(check, o.check.common);
  check->callback([&] { code = run_check(o.check); });
}

void define_size(CLI::App& app, Options& o, int& code) {
  auto* size =
      app.add_subcommand("size", "can the fuel system feed this engine; where must it stop");
  size->add_option("JOB", o.size.job)->required();
  size->add_option("--boost", o.size.boost,
                   "the same car with this pressure behind the throttle: \"40 kPa\"");
  size->add_flag("--cooler", o.size.cooler, "the boosted air is cooled");
  size->add_flag("--exhaust-driven", o.size.exhaust_driven,
                 "the blower is driven by the exhaust, not by the crank");
  size->add_option("--margin", o.size.margin, "that a change must restore, 0 to 1")
      ->capture_default_str();
  size->add_option("--measured", o.size.measured,
                   "KEY=VALUE of the sheet's section [supply], measured since; kept in the job");
  size->add_flag("--forget-measured", o.size.forget_measured, "what was measured before");
  add_common(size, o.size.common);
  add_units(size, o.size.common);
  size->callback([&] { code = run_size(o.size); });
}

void define_plan(CLI::App& app, Options& o, int& code) {
  auto* plan = app.add_subcommand("plan", "where to drive next, read out step by step");
  plan->add_option("JOB", o.plan.job)->required();
  plan->add_option("-o,--out", o.plan.out, "a file for the plan (TOML); car --plan drives it");
  plan->add_option("--minutes", o.plan.minutes, "at most so long, 0.5 to 60; default 10");
  plan->add_option("--top-speed", o.plan.top_speed,
                   "speed limit of the road at hand: \"90 km/h\", \"55 mph\" (the default); on a "
                   "dyno of the wheels");
  plan->add_option("--grade", o.plan.grade, "of the road at hand, rise over run, -0.06 to 0.06");
  plan->add_flag("--dyno", o.plan.dyno, "on a dyno that holds the speed while the throttle sets the "
                 "manifold pressure, instead of a road");
  auto* cycle = plan->add_option("--cycle", o.plan.cycle,
                                 "what the car is used for: CSV of time and speed; default: what "
                                 "was recorded");
  plan->add_option("--use", o.plan.use, "recordings (their numbers) that show the use of the car")
      ->excludes(cycle);
  plan->add_option("--within", o.plan.within, "how near counts as good, share; default 0.02");
  plan->add_flag("--stop-finding", o.plan.stop_finding,
                 "a check of the sensors says stop: nothing at high load is planned");
  add_common(plan, o.plan.common);
  add_units(plan, o.plan.common);
  plan->callback([&] { code = run_plan(o.plan); });
}

// A car whose truth is known.
void define_car(CLI::App& app, Options& o, int& code) {
  auto* car =
      app.add_subcommand("car", "a virtual car drives a cycle or a plan and writes a recording");
  car->add_option("SHEET", o.car.sheet, "build sheet (TOML)")->required();
  auto* task = car->add_option_group("task", "what is driven, one of these");
  task->add_option("--cycle", o.car.cycle, "CSV of time and speed; examples/cycles has some");
  task->add_option("--plan", o.car.plan, "holds and pulls, TOML or JSON; examples/plans has one");
  task->require_option(1);
  car->add_option("--seed", o.car.seed, "of what is true and of every noise")
      ->capture_default_str();
  car->add_option("--minutes", o.car.minutes,
                  "how long; default: the cycle once, the plan to its end");
  car->add_option("--fault", o.car.faults, "KIND@SECONDS:SEVERITY, such as vacuum_leak@120:0.5");
  car->add_option("--truth-in", o.car.truth_in, "what is true (TOML); what it leaves out is drawn");
  car->add_option("--truth-out", o.car.truth_out, "a file for all that is true");
  car->add_option("--calibration", o.car.calibration,
                  "what is in the unit: a job (its revision in force) or tables (NAME.json); "
                  "default: a table wrong by 5 to 15 %");
  car->add_option("--calibration-out", o.car.calibration_out, "a file for what was in the unit");
  car->add_option("--learned-out", o.car.learned_out,
                  "a file for the factors that a unit which corrects itself has learned");
  car->add_option("-o,--out", o.car.out, "the recording to write (CSV)")->required();
  add_common(car, o.car.common);
  car->callback([&] { code = run_car(o.car); });
}

void define(CLI::App& app, Options& o, int& code) {
  auto* fresh = app.add_subcommand(
      "new", "start a job from a build sheet, or from five answers asked one by one");
  fresh->add_option("SHEET", o.fresh.sheet,
                    "build sheet (TOML); without it five questions are asked");
  fresh->add_option("-o,--out", o.fresh.job, "the job file to make (NAME.fw)")->required();
  fresh->add_option("--table", o.fresh.table, "the VE table as found in the unit, pasted as text");
  fresh->add_option("--load-axis", o.fresh.load,
                    "what its left side means: map_absolute, vacuum, throttle");
  fresh->add_option("--load-unit", o.fresh.load_unit, "unit of its left side: kPa, inHg, %");
  fresh->add_option("--decimal", o.fresh.decimal, "its decimal mark: comma or point");
  add_common(fresh, o.fresh.common);
  add_units(fresh, o.fresh.common);
  fresh->callback([&] { code = run_new(o.fresh); });

  auto* add = app.add_subcommand("add", "take recordings in");
  add->add_option("JOB", o.add.job)->required();
  add->add_option("RECORDING", o.add.recordings)->required();
  add->add_option("--channel", o.add.channels, "HEADER=QUANTITY:UNIT, what a column is");
  add->add_option("--afr-constant", o.add.afr_constant,
                  "the AFR that the gauge shows at lambda 1 (often 14.7)");
  add->add_option("--rate", o.add.rate,
                  "spacing of the rows where no column says: \"10 Hz\", \"0.1 s\"");
  add->add_option("--ambient", o.add.ambient,
                  "ambient pressure of the drive, \"98 kPa\"; default: the sheet's place");
  add->add_flag("--unordered", o.add.unordered, "neighbouring rows need not follow each other");
  add->add_option("--revision", o.add.revision,
                  "the revision that was in the unit; default: the one in force");
  add->add_option("--learned", o.add.learned,
                  "factors over its VE table that the unit had learned by itself and was driven "
                  "with, pasted as text; for a recording that is in the job already, too");
  add_common(add, o.add.common);
  add_units(add, o.add.common);
  add->callback([&] { code = run_add(o.add); });

  auto* predict = app.add_subcommand(
      "predict", "what this engine will do, from its parts, and its first calibration");
  predict->add_option("JOB", o.predict.job)->required();
  predict->add_option("--members", o.predict.members,
                      "engines that could be this one, 16 to 512; more take longer; as many as in the job's "
                      "last prediction, else 64, if nothing is said");
  auto* keep =
      predict->add_flag("--keep", o.predict.keep, "make it a revision whatever is in force");
  predict->add_flag("--look", o.predict.look, "show it; make no revision")->excludes(keep);
  predict->add_option("--why", o.predict.why, "why, for the journal");
  add_common(predict, o.predict.common);
  add_units(predict, o.predict.common);
  predict->callback([&] { code = run_predict(o.predict); });

  auto* estimate = app.add_subcommand("estimate", "what the recordings prove; makes a proposal");
  estimate->add_option("JOB", o.estimate.job)->required();
  estimate->add_option("--from", o.estimate.from,
                       "correction, pulse-width, trims or air; default: the best there is");
  estimate->add_flag("--open-loop", o.estimate.open_loop,
                     "the unit ran without closed-loop correction");
  estimate->add_option("--lean-limit", o.estimate.lean_limit,
                       "leanest mixture at full load, lambda 0.80 to 1.00; default 0.92");
  estimate->add_option("--lean-chance", o.estimate.lean_chance,
                       "chance of being leaner there that is taken, 0.0005 to 0.05; default 0.01");
  estimate->add_flag("--cause-found", o.estimate.cause_found,
                     "why a step of full throttle came out beyond its prediction is found: the "
                     "climb goes on");
  add_common(estimate, o.estimate.common);
  add_units(estimate, o.estimate.common);
  estimate->callback([&] { code = run_estimate(o.estimate); });

  auto* accept = app.add_subcommand("accept", "the proposal becomes a revision");
  accept->add_option("JOB", o.accept.job)->required();
  accept->add_option("--why", o.accept.why, "why, for the journal");
  add_common(accept, o.accept.common);
  add_units(accept, o.accept.common);
  accept->callback([&] { code = run_accept(o.accept); });

  auto* tables = app.add_subcommand("export", "tables out: csv, tsv (clipboard), json, ASAM CDF");
  tables->add_option("JOB", o.tables.job)->required();
  tables->add_option("--form", o.tables.form, "csv, tsv, json or cdf")->capture_default_str();
  tables->add_option("--table", o.tables.table,
                     "ve, lambda_target, correction, spark, or a curve or setting by its name");
  tables->add_option("--revision", o.tables.revision, "default: the one in force");
  tables->add_option("-o,--out", o.tables.out, "a file; default: the terminal");
  add_common(tables, o.tables.common);
  add_units(tables, o.tables.common);
  tables->callback([&] { code = run_export(o.tables); });

  auto* archive = app.add_subcommand("export-recordings",
                                     "recordings out as Parquet files, for a shop's archive");
  archive->add_option("JOB", o.archive.job)->required();
  archive
      ->add_option("-o,--out", o.archive.folder, "the archive's folder, made where it is missing")
      ->required();
  archive->add_option("--vehicle", o.archive.vehicle,
                      "the car's name in the archive; default: the job's");
  add_common(archive, o.archive.common);
  archive->callback([&] { code = run_export_recordings(o.archive); });

  auto* show =
      app.add_subcommand("show", "sheet, recordings, revisions, evidence, journal, calibration");
  show->add_option("JOB", o.show.job)->required();
  show->add_option("WHAT", o.show.what)->capture_default_str();
  add_common(show, o.show.common);
  add_units(show, o.show.common);
  show->callback([&] { code = run_show(o.show); });

  define_by_hand(app, o, code);
  define_car(app, o, code);
  define_check(app, o, code);
  define_size(app, o, code);
  define_plan(app, o, code);

  auto* serve = app.add_subcommand("serve", "the browser pages, for this machine alone");
  serve->add_option("DIR", o.serve.folder, "the folder with the jobs")->capture_default_str();
  serve
      ->add_option("--port", o.serve.port,
                   fmt::format("0: any that is free; without it {}, or any if that is taken",
                               server::kUsualPort))
      ->check(CLI::Range(0, 65535));
  serve->callback([&] { code = run_serve(o.serve); });

  auto* demo = app.add_subcommand("demo", "the job on the built-in example car");
  demo->add_option("--folder", o.demo.folder, "where it is made")->capture_default_str();
  demo->add_option("--seed", o.demo.seed, "of the invented car and its drive")
      ->capture_default_str();
  demo->add_flag("--found", o.demo.found,
                 "the car came with a table: nothing is computed from its parts");
  add_common(demo, o.demo.common);
  demo->callback([&] { code = run_demo(o.demo); });
}

}  // namespace

int main(int argc, char** argv) {
  std::signal(SIGXFSZ, SIG_IGN);  // a file that may not grow is answered like a full disk
  CLI::App app(
      "Fuelwright: from a build sheet and recordings to a fuel table that says how sure it is.",
      "fuelwright");
  app.set_version_flag("--version", std::string("fuelwright ") + FUELWRIGHT_VERSION);
  app.require_subcommand(1);
  app.failure_message([](const CLI::App*, const CLI::Error& e) {
    return fmt::format("fuelwright: {}; see --help\n", e.what());
  });
  Options options;
  int code = 0;
  define(app, options, code);
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    const int shown = app.exit(e);
    return shown == 0 ? 0 : kUsage;
  } catch (const fuelwright::Bug& e) {
    fmt::print(stderr, "fuelwright: this is our mistake, please report it: {}\n", e.what());
    return kBug;
  } catch (const std::exception& e) {
    fmt::print(stderr, "fuelwright: {}\n", e.what());
    return kBug;
  }
  return code != 0 && was_interrupted() ? kInterrupted : code;
}
