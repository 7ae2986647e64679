package mqtt

import (
	"context"
	"fmt"
	"log/slog"
	"strings"
	"sync"

	paho "github.com/eclipse/paho.mqtt.golang"
)

var logsOnce sync.Once

// LogTo sends what the MQTT library itself says to log. The library's loggers
// belong to the process, so only the first call counts; main makes it. Its
// "errors" are lost connections, which the Subscriber reports in its own words
// once for each attempt, hence their level.
func LogTo(log *slog.Logger) {
	logsOnce.Do(func() {
		paho.CRITICAL = libraryLog{log, slog.LevelWarn}
		paho.ERROR = libraryLog{log, slog.LevelDebug}
		paho.WARN = libraryLog{log, slog.LevelDebug}
	})
}

type libraryLog struct {
	log   *slog.Logger
	level slog.Level
}

func (l libraryLog) Println(v ...any) {
	l.log.Log(context.Background(), l.level, "mqtt library", "said", strings.TrimSpace(fmt.Sprintln(v...)))
}

func (l libraryLog) Printf(format string, v ...any) { l.Println(fmt.Sprintf(format, v...)) }
