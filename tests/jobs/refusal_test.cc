// What the system refuses: a full disk, a file that may not grow, a read-only place, another
// writer. One clear line, an exit code, the job as it was.
#include <sched.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/stat.h>

#include "service/job/job.h"
#include "workshop.h"

namespace fuelwright::jobs {
namespace {

constexpr int kIo = 7, kLocked = 9;  // docs/exit_codes.md

class Refused : public Workshop {
 protected:
  std::vector<Words> writers(const std::string& job) const {
    return {add(job, another_drive(7)),
            {"estimate", job},
            {"accept", job},
            {"show", job, "--units", "metric"}};
  }
};

// A disk of 1.5 MB that only this process sees; without root in a user namespace of its own.
bool mount_small_disk(const std::string& folder) {
  const uid_t user = geteuid();
  if (unshare(user == 0 ? CLONE_NEWNS : CLONE_NEWUSER | CLONE_NEWNS) != 0) return false;
  if (user != 0) std::ofstream("/proc/self/uid_map") << "0 " << user << " 1";
  return mount("none", "/", nullptr, MS_REC | MS_PRIVATE, nullptr) == 0 &&
         mount("small", folder.c_str(), "tmpfs", 0, "size=1500k") == 0;
}

TEST_F(Refused, OnAFullDiskEveryCommandSaysSoInOneLineAndTheJobIsAsItWas) {
  std::filesystem::create_directory(in("disk"));
  if (!mount_small_disk(in("disk"))) GTEST_SKIP() << "no small disk can be mounted here";
  const std::string job = in("disk/coupe.fw");
  const std::string before = everything(in("proposed.fw"));
  const std::string page(4096, 'x');
  for (std::size_t which = 0; which < writers(job).size(); ++which) {
    const Words command = writers(job)[which];
    SCOPED_TRACE(command.front());
    int refused = 0;
    bool done = false;
    for (int free_pages = 0; !done && free_pages < 300; free_pages += 1 + free_pages / 6) {
      SCOPED_TRACE(free_pages);
      for (const auto& f : std::filesystem::directory_iterator(in("disk"))) {
        std::filesystem::remove(f);
      }
      std::filesystem::copy_file(in("proposed.fw"), job);
      const std::string bytes = bytes_of(job);
      {
        std::ofstream spare(in("disk/spare"), std::ios::binary);
        for (int i = 0; i < free_pages; ++i) spare << page;
        spare.flush();
        std::ofstream filler(in("disk/filler"), std::ios::binary);
        while (filler << page << std::flush) {
        }
      }
      std::filesystem::remove(in("disk/spare"));
      const Answer a = run(command);
      if (a.code == 0) {
        done = true;
        continue;
      }
      ++refused;
      expect_refusal(a, kIo);
      EXPECT_TRUE(bytes_of(job) == bytes) << "the job's file was changed";
      std::filesystem::remove(in("disk/filler"));
      std::string now = everything(job);
      // It names its own path.
      for (std::size_t at = 0; (at = now.find(job, at)) != std::string::npos;) {
        now.replace(at, job.size(), in("proposed.fw"));
      }
      EXPECT_TRUE(now == before) << "the job says something else";
      EXPECT_EQ(run(command).code, 0);  // and with room again it goes on
    }
    EXPECT_TRUE(done);
    EXPECT_GT(refused, 4);
  }
  umount2(in("disk").c_str(), MNT_DETACH);
}

TEST_F(Refused, AFileThatMayNotGrowIsAnsweredLikeAFullDisk) {
  for (const Words& command : writers(in("coupe.fw"))) {
    SCOPED_TRACE(command.front());
    const std::string job = fresh("proposed.fw");
    const std::string before = everything(job);
    const std::string bytes = bytes_of(job);
    const Answer a = run(command, [] {
      constexpr rlim_t kLargest = 4096;  // the log of one small row is larger
      const rlimit limit{kLargest, kLargest};
      setrlimit(RLIMIT_FSIZE, &limit);
    });
    expect_refusal(a, kIo);
    EXPECT_TRUE(bytes_of(job) == bytes);
    EXPECT_TRUE(everything(job) == before);
    EXPECT_EQ(run(command).code, 0);
  }
}

TEST_F(Refused, AnExportOntoAFullDiskLeavesNoHalfFile) {
  const std::string job = fresh("proposed.fw");
  const Answer a = run({"export-recordings", job, "-o", in("shop")}, [] {
    constexpr rlim_t kLargest = 40'000;  // the index of the job fits, the recording does not
    const rlimit limit{kLargest, kLargest};
    setrlimit(RLIMIT_FSIZE, &limit);
  });
  expect_refusal(a, kIo, "cannot be written");
  for (const auto& f : std::filesystem::recursive_directory_iterator(in("shop"))) {
    EXPECT_FALSE(f.is_regular_file()) << f.path();
  }
}

TEST_F(Refused, AReadOnlyJobIsShownAndExportedAndEveryWriteIsRefused) {
  constexpr uid_t kNobody = 65534;
  const Before leave_root = [] {
    if (geteuid() == 0 && setuid(kNobody) != 0) _exit(126);
  };
  std::filesystem::create_directory(in("archive"));
  std::filesystem::copy_file(in("proposed.fw"), in("archive/coupe.fw"));
  const std::string job = in("archive/coupe.fw");
  const std::vector<Words> commands = writers(job);
  const std::string bytes = bytes_of(job);
  chmod(folder_.c_str(), 0755);
  chmod(in("another.csv").c_str(), 0644);
  if (run({"--version"}, leave_root).code != 0) GTEST_SKIP() << "cannot run as somebody else";
  // The file alone, then its folder too, as on a medium that is read-only.
  for (const mode_t folder_mode : {0777, 0555}) {
    SCOPED_TRACE(folder_mode);
    chmod(job.c_str(), 0444);
    chmod(in("archive").c_str(), folder_mode);
    for (const char* what :
         {"summary", "sheet", "recordings", "revisions", "evidence", "journal"}) {
      const Answer a = run({"show", job, what}, leave_root);
      EXPECT_EQ(a.code, 0) << what << ": " << a.err;
      EXPECT_EQ(a.err, "");
    }
    EXPECT_EQ(run({"export", job, "--form", "json"}, leave_root).code, 0);
    for (const Words& command : commands) {
      SCOPED_TRACE(command.front());
      expect_refusal(run(command, leave_root), kIo, "read-only");
    }
    EXPECT_TRUE(bytes_of(job) == bytes);
  }
  chmod(in("archive").c_str(), 0755);
}

TEST_F(Refused, TwoWritersAtOnceBothGetTheirTurn) {
  const std::string job = fresh("ready.fw");
  constexpr int kPairs = 10;
  for (int i = 0; i < kPairs; ++i) {
    std::filesystem::copy_file(another_drive(2 * i + 1), in("left.csv"),
                               std::filesystem::copy_options::overwrite_existing);
    Running left(folder_, add(job, in("left.csv")));
    Running right(folder_, add(job, another_drive(2 * i + 2)));
    const Answer a = left.wait();
    const Answer b = right.wait();
    EXPECT_EQ(a.code, 0) << a.err;
    EXPECT_EQ(b.code, 0) << b.err;
  }
  const auto opened = service::Job::open(job, service::Access::read);
  ASSERT_TRUE(opened) << opened.error().line();
  EXPECT_EQ(opened->recordings()->size(), 1U + 2 * kPairs);
  const auto journal = opened->journal();
  ASSERT_TRUE(journal) << journal.error().line();  // its chain holds
  EXPECT_EQ(std::ranges::count(*journal, "add", &service::JournalRow::command), 1 + 2 * kPairs);
}

TEST_F(Refused, AWriterThatStaysIsWaitedForAndThenNamed) {
  const std::string job = fresh("proposed.fw");
  const auto reader = service::Job::open(job, service::Access::read);  // keeps the index there
  ASSERT_TRUE(reader) << reader.error().line();
  const pid_t holder = fork();
  if (holder == 0) {
    // The byte of the index that SQLite locks to write ("WAL-mode File Format", 2.3.1).
    constexpr off_t kWriteLock = 120;
    const int fd = open((job + "-shm").c_str(), O_RDWR);
    struct flock lock{};
    lock.l_type = F_WRLCK;
    lock.l_whence = SEEK_SET;
    lock.l_start = kWriteLock;
    lock.l_len = 1;
    if (fd < 0 || fcntl(fd, F_SETLK, &lock) != 0) _exit(1);
    pause();
    _exit(0);
  }
  usleep(200'000);
  expect_refusal(run({"accept", job}), kLocked, "another program is writing");
  EXPECT_EQ(run({"show", job, "journal"}).code, 0);  // reading needs no turn
  kill(holder, SIGKILL);
  int status = 0;
  waitpid(holder, &status, 0);
  EXPECT_TRUE(WIFSIGNALED(status)) << "the lock could not be taken";
  EXPECT_EQ(run({"accept", job}).code, 0);
}

}  // namespace
}  // namespace fuelwright::jobs
