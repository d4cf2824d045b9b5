@echo off
rem Drop a workbook onto this file, or double-click it while the workbook is open in Excel:
rem it is estimated where it is open, or else its file is.
setlocal
set "PYTHON=%~dp0.venv\Scripts\python.exe"
if not exist "%PYTHON%" (
    echo The estimator is not set up in this folder: see README.md, or run setup.cmd of the kit.
    pause
    exit /b 1
)
if "%~1"=="" goto open
set "CODE=0"
:next
"%PYTHON%" -m estimator press "%~1"
if errorlevel 1 set "CODE=1"
shift
if not "%~1"=="" goto next
goto end
:open
"%PYTHON%" -m estimator press
set "CODE=%ERRORLEVEL%"
:end
pause
exit /b %CODE%
